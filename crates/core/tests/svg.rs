//! The neck as SVG: everything inside the picture, nothing told by colour.

use fifthpeg_core::svg::{NeckMark, escaped, neck_svg};
use fifthpeg_core::{Neck, NeckDrawing, Position, ready_necks};

/// The numbers of every attribute of that name.
fn numbers(svg: &str, attribute: &str) -> Vec<f64> {
    let opening = format!(" {attribute}=\"");
    svg.match_indices(&opening)
        .filter_map(|(at, _)| svg[at + opening.len()..].split('"').next())
        .map(|value| value.parse().expect("a number"))
        .collect()
}

fn view_box(svg: &str) -> Vec<f64> {
    let (_, rest) = svg.split_once("viewBox=\"").expect("a view box");
    let (sizes, _) = rest.split_once('"').expect("its end");
    sizes
        .split(' ')
        .map(|n| n.parse().expect("a size"))
        .collect()
}

#[test]
fn every_neck_fits_its_picture_both_ways_round() {
    for ready in ready_necks() {
        let neck = Neck::ready(ready.name).expect("it is listed");
        for left_handed in [false, true] {
            let drawing = NeckDrawing::new(&neck, left_handed, neck.last_fret());
            let marks: Vec<NeckMark> = neck.positions().into_iter().map(NeckMark::solid).collect();
            let svg = neck_svg(&drawing, &marks, 720.0, "every place");
            let size = view_box(&svg);
            for (name, most) in [
                ("cx", size[2]),
                ("x", size[2]),
                ("cy", size[3]),
                ("y", size[3]),
            ] {
                let found = numbers(&svg, name);
                assert!(!found.is_empty(), "{} has no {name}", ready.name);
                for n in found {
                    assert!((0.0..=most).contains(&n), "{}: {name}={n}", ready.name);
                }
            }
            let shown = marks
                .iter()
                .filter(|m| drawing.at(m.place).is_some())
                .count();
            assert_eq!(svg.matches("stroke-width=\"1.6\"").count(), shown);
        }
    }
}

#[test]
fn marks_on_one_string_keep_apart() {
    let neck = Neck::ready("banjo-open-g").expect("it comes with the program");
    let drawing = NeckDrawing::new(&neck, false, neck.last_fret());
    let marks: Vec<NeckMark> = (0..=22)
        .map(|fret| NeckMark::solid(Position::new(1, fret)))
        .collect();
    let svg = neck_svg(&drawing, &marks, 720.0, "string 1");
    // The marks come last, and are no dots: those have no edge.
    let (x, r) = (numbers(&svg, "cx"), numbers(&svg, "r"));
    let marks = x.len() - 23;
    for n in marks..x.len() - 1 {
        assert!(x[n + 1] - x[n] >= r[n] + r[n + 1], "marks {n} touch");
    }
}

#[test]
fn shades_are_greys_and_labels_stay_readable() {
    let neck = Neck::ready("ukulele").expect("it comes with the program");
    let drawing = NeckDrawing::new(&neck, false, 12);
    let mark = |fret: u8, shade| NeckMark {
        shade,
        ring: fret == 3,
        label: fret.to_string(),
        ..NeckMark::solid(Position::new(1, fret))
    };
    let marks = [mark(1, 0.0), mark(2, 1.0), mark(3, 0.4), mark(5, f64::NAN)];
    let svg = neck_svg(&drawing, &marks, 640.0, "a \"heat\" <map>");
    assert!(svg.contains("aria-label=\"a &quot;heat&quot; &lt;map&gt;\""));
    for (shade, ink) in [
        ("#ffffff", "#000"),
        ("#000000", "#fff"),
        ("#999999", "#000"),
    ] {
        let (_, after) = svg.split_once(&format!("fill=\"{shade}\"")).expect(shade);
        let (_, label) = after
            .split_once("font-size=\"9\" fill=\"")
            .expect("a label");
        assert!(label.starts_with(ink), "{shade}: {label}");
    }
    let elsewhere = neck_svg(&drawing, &[NeckMark::solid(Position::new(9, 1))], 640.0, "");
    assert!(!elsewhere.contains("stroke-width=\"1.6\""));
}

#[test]
fn text_cannot_break_out() {
    assert_eq!(escaped("<b>'&\u{7}\n"), "&lt;b&gt;&#39;&amp;?\n");
}
