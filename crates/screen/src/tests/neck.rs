//! The neck on a grid of cells: true to scale, every place drawn once and found
//! again by the mouse, for every ready neck, hand and size.

use std::collections::HashSet;

use fifthpeg_core::{Neck, Position, fret_ratio, ready_necks};
use ratatui::layout::Rect;

use crate::neck::NeckCursor;
use crate::neck::NeckGrid;
use crate::neck::cursor::Step;

fn place(text: &str) -> Position {
    text.parse().expect("a place")
}

fn banjo() -> Neck {
    Neck::ready("banjo-open-g").expect("a ready neck")
}

fn grids() -> Vec<(Neck, NeckGrid)> {
    let mut out = Vec::new();
    for ready in ready_necks() {
        let plain = ready.neck();
        let capoed = plain.with_capo_at(2).expect("a capo at fret 2");
        for neck in [plain, capoed] {
            for (columns, rows) in [(60, 14), (80, 16), (200, 30)] {
                for left_handed in [false, true] {
                    let area = Rect::new(3, 2, columns, rows);
                    let grid = NeckGrid::new(&neck, area, 5, left_handed, u8::MAX).expect("room");
                    out.push((neck.clone(), grid));
                }
            }
        }
    }
    out
}

#[test]
fn every_place_has_a_cell_of_its_own_and_the_mouse_finds_it() {
    for (neck, grid) in grids() {
        let mut cells = HashSet::new();
        let shown = |place: &Position| place.fret <= grid.last_fret();
        for place in neck.positions().into_iter().filter(shown) {
            let at = grid.place(place).expect("a cell");
            assert!(cells.insert(at), "{}: {place} shares a cell", neck.name());
            assert_eq!(grid.place_at(at.0, at.1), Some(place), "{}", neck.name());
        }
    }
}

#[test]
fn the_whole_of_every_ready_neck_fits_sixty_columns() {
    for (neck, grid) in grids() {
        assert_eq!(grid.last_fret(), neck.last_fret(), "{}", neck.name());
    }
}

#[test]
fn a_wide_neck_is_true_to_scale() {
    // Distances by equal temperament, 1 - 2^(-n/12) of the scale length.
    let area = Rect::new(0, 0, 200, 20);
    let grid = NeckGrid::new(&banjo(), area, 4, false, u8::MAX).expect("room");
    let nut = f64::from(grid.wire(0));
    let whole = f64::from(grid.wire(22)) - nut;
    for fret in 0..=22 {
        let wanted = nut + whole * fret_ratio(fret) / fret_ratio(22);
        let drawn = f64::from(grid.wire(fret));
        assert!(
            (drawn - wanted).abs() <= 0.51,
            "fret {fret}: {drawn}, not {wanted}"
        );
    }
}

#[test]
fn the_fifth_string_begins_at_its_peg() {
    let area = Rect::new(0, 0, 200, 20);
    let grid = NeckGrid::new(&banjo(), area, 4, false, u8::MAX).expect("room");
    let (column, row) = grid.place(place("5/0")).expect("its open place");
    assert_eq!(column + 1, grid.wire(5));
    assert_eq!(row, grid.row(5));
    assert_eq!(grid.place(place("5/5")), None);
    assert_eq!(grid.place_at(grid.wire(2), row), None);
    let (sixth, _) = grid.place(place("5/6")).expect("its first stopped fret");
    assert!(sixth > grid.wire(5) && sixth < grid.wire(6));
}

#[test]
fn a_left_handed_neck_is_the_mirror_image() {
    let area = Rect::new(0, 0, 100, 20);
    let right = NeckGrid::new(&banjo(), area, 4, false, u8::MAX).expect("room");
    let left = NeckGrid::new(&banjo(), area, 4, true, u8::MAX).expect("room");
    for place in banjo().positions() {
        let (x, y) = right.place(place).expect("a cell");
        assert_eq!(left.place(place), Some((99 - x, y)));
    }
}

#[test]
fn no_room_is_no_grid() {
    for (columns, rows) in [(8, 20), (80, 4), (0, 0)] {
        let area = Rect::new(0, 0, columns, rows);
        assert_eq!(NeckGrid::new(&banjo(), area, 4, false, u8::MAX), None);
    }
}

#[test]
fn the_cursor_reaches_every_place_and_never_leaves_the_neck() {
    let steps = [
        Step::Up,
        Step::Down,
        Step::Left,
        Step::Right,
        Step::Open,
        Step::Last,
    ];
    for ready in ready_necks() {
        let neck = ready.neck();
        let mut seen = HashSet::new();
        let mut open = vec![NeckCursor::new(&neck).expect("a cursor")];
        while let Some(cursor) = open.pop() {
            if !seen.insert((cursor.place(), format!("{cursor:?}"))) {
                continue;
            }
            for step in steps {
                let mut next = cursor;
                next.step(&neck, step, false);
                assert!(neck.pitch_at(next.place()).is_some());
                open.push(next);
            }
        }
        let places: HashSet<Position> = seen.into_iter().map(|(place, _)| place).collect();
        assert_eq!(places.len(), neck.positions().len(), "{}", neck.name());
    }
}

#[test]
fn arrows_follow_the_picture_of_a_left_handed_neck() {
    let neck = banjo();
    let mut cursor = NeckCursor::new(&neck).expect("a cursor");
    cursor.step(&neck, Step::Left, true);
    assert_eq!(cursor.place(), place("1/1"));
    cursor.step(&neck, Step::Right, true);
    assert_eq!(cursor.place(), place("1/0"));
}

#[test]
fn the_cursor_comes_back_to_its_fret_past_the_short_string() {
    let neck = banjo();
    let mut cursor = NeckCursor::new(&neck).expect("a cursor");
    assert!(cursor.put(&neck, place("4/3")));
    cursor.step(&neck, Step::Down, false);
    assert_eq!(cursor.place(), place("5/0"));
    cursor.step(&neck, Step::Right, false);
    assert_eq!(cursor.place(), place("5/6"));
    cursor.step(&neck, Step::Left, false);
    cursor.step(&neck, Step::Up, false);
    assert_eq!(cursor.place(), place("4/5"));
}
