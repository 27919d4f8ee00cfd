//! Drawing data, by value.

use fifthpeg_core::{Neck, NeckDrawing, Position};

fn banjo() -> Neck {
    Neck::ready("banjo-open-g").expect("a ready neck")
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

#[test]
fn frets_are_true_to_scale() {
    let drawing = NeckDrawing::new(&banjo(), false, 12);
    assert_eq!(drawing.frets.len(), 13);
    // Twelve frets are half the string, so a fret lies at twice its ratio.
    for fret in &drawing.frets {
        assert!(close(
            fret.x,
            2.0 * (1.0 - 2_f64.powf(-f64::from(fret.number) / 12.0))
        ));
    }
    assert_eq!(NeckDrawing::new(&banjo(), false, 99).last_fret(), 22);
    assert_eq!(NeckDrawing::new(&banjo(), false, 0).last_fret(), 1);
}

#[test]
fn string_one_is_at_the_top_and_the_fifth_is_short() {
    let drawing = NeckDrawing::new(&banjo(), false, 22);
    assert_eq!(
        drawing.strings.iter().map(|s| s.y).collect::<Vec<_>>(),
        [0.0, 0.25, 0.5, 0.75, 1.0]
    );
    assert_eq!(
        (drawing.strings[0].from_x, drawing.strings[0].to_x),
        (0.0, 1.0)
    );
    assert_eq!(drawing.strings[4].from_x, drawing.frets[5].x);
    // Its open place is at the peg.
    assert_eq!(
        drawing.at(Position::new(5, 0)),
        Some((drawing.frets[5].x, 1.0))
    );
    assert_eq!(drawing.at(Position::new(5, 3)), None);
}

#[test]
fn a_left_handed_neck_is_the_mirror_image() {
    let right = NeckDrawing::new(&banjo(), false, 12);
    let left = NeckDrawing::new(&banjo(), true, 12);
    assert_eq!(left.frets[0].x, 1.0);
    for position in banjo().positions() {
        match (right.at(position), left.at(position)) {
            (Some((rx, ry)), Some((lx, ly))) => assert!(close(rx, 1.0 - lx) && ry == ly),
            (None, None) => assert!(position.fret > 12),
            other => panic!("{position}: {other:?}"),
        }
    }
}

#[test]
fn a_pointer_finds_open_strings() {
    let drawing = NeckDrawing::new(&banjo(), false, 22);
    let fret = |number: usize| drawing.frets[number].x;
    assert_eq!(drawing.nearest(0.0, 0.1), Some(Position::new(1, 0)));
    assert_eq!(drawing.nearest(-3.0, 0.5), Some(Position::new(3, 0)));
    assert_eq!(
        drawing.nearest(fret(1) * 0.5, 0.5),
        Some(Position::new(3, 1))
    );
    // Around the fifth's peg, and where it is not.
    assert_eq!(
        drawing.nearest(fret(5) - 0.001, 1.0),
        Some(Position::new(5, 0))
    );
    assert_eq!(
        drawing.nearest(fret(5) + 0.001, 1.0),
        Some(Position::new(5, 0))
    );
    assert_eq!(
        drawing.nearest(fret(6) - 0.001, 1.0),
        Some(Position::new(5, 6))
    );
    assert_eq!(drawing.nearest(fret(2), 1.0), None);
    assert_eq!(drawing.nearest(f64::NAN, 0.0), None);
}

#[test]
fn a_capo_lies_across_its_strings() {
    let neck = banjo().with_capo_at(2).expect("fits");
    let drawing = NeckDrawing::new(&neck, false, 22);
    let capo = drawing.capo.expect("a capo");
    assert_eq!((capo.fret, capo.from_y, capo.to_y), (2, 0.0, 0.75));
    assert!(close(
        capo.x,
        (drawing.frets[1].x + drawing.frets[2].x) / 2.0
    ));
    let short = drawing.short_capo.expect("the fifth's own");
    assert_eq!((short.fret, short.from_y, short.to_y), (7, 1.0, 1.0));
    // Anything behind the capo means the open string there.
    assert_eq!(drawing.nearest(0.0, 0.25), Some(Position::new(2, 2)));
}

/// Dots at 3, 5, 7 and 12, with 10 on banjos and 9 on guitars. Common
/// practice, no source.
#[test]
fn dots() {
    let dots = |name: &str| {
        let neck = Neck::ready(name).expect("a ready neck");
        let drawing = NeckDrawing::new(&neck, false, 13);
        drawing.dots.iter().map(|dot| dot.fret).collect::<Vec<_>>()
    };
    assert_eq!(dots("banjo-open-g"), [3, 5, 7, 10, 12, 12]);
    assert_eq!(dots("guitar"), [3, 5, 7, 9, 12, 12]);
}

/// For narrow pages: the nut on top, string 1 at the right, and at the left for the
/// left-handed.
#[test]
fn an_upright_neck_has_the_nut_on_top() {
    use fifthpeg_core::svg::{NeckMark, neck_svg_upright};
    for left_handed in [false, true] {
        let drawing = NeckDrawing::new(&banjo(), left_handed, 12);
        let middle = |string, fret| -> (f64, f64) {
            let mark = NeckMark::solid(Position::new(string, fret));
            let svg = neck_svg_upright(&drawing, &[mark], (340.0, 400.0), "a neck");
            assert!(svg.contains(r#"viewBox="0 0 340 444""#), "{svg}");
            let circles = svg.split("<circle ");
            let mark = circles.filter(|c| c.contains("#000000")).last();
            let number = |name: &str| -> f64 {
                let (_, rest) = mark.and_then(|m| m.split_once(name)).expect("a mark");
                rest.split('"')
                    .next()
                    .and_then(|n| n.parse().ok())
                    .expect("a number")
            };
            (number("cx=\""), number("cy=\""))
        };
        let (first, fourth) = (middle(1, 2), middle(4, 2));
        assert_eq!(first.0 < fourth.0, left_handed);
        assert!(close(first.1, fourth.1));
        let down: Vec<f64> = (0..=12).map(|fret| middle(2, fret).1).collect();
        assert!(down.is_sorted(), "{down:?}");
    }
}
