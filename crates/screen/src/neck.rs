//! The neck on a screen.

pub mod cursor;
pub mod draw;
pub mod grid;
pub mod signs;

pub use cursor::NeckCursor;
pub use draw::NeckPicture;
pub use grid::NeckGrid;
pub use signs::PlaceSign;
