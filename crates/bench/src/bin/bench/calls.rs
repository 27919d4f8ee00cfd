//! From the host's order to the last of many students, beside a bare server.

use crate::Failure;
use crate::bare::{Bare, Reads};
use crate::clock::allow_connections;
use crate::hosting::{Class, Way, call_bytes};
use crate::table::{Table, median};

/// Times `rounds` calls to `students`, each beside one bare broadcast.
pub async fn measure(table: &mut Table, students: usize, rounds: usize) -> Result<(), Failure> {
    allow_connections(students * (1 + Way::ALL.len()))?;
    let bytes = call_bytes()?;
    let mut bare = Bare::start(students, Reads::Only).await?;
    let mut classes = Vec::new();
    for way in Way::ALL {
        classes.push((way, Class::start(students, way, None).await?, Vec::new()));
    }
    let mut alone = Vec::new();
    // The first rounds find everything cold.
    for round in 0..rounds + 3 {
        let time = bare.broadcast(bytes).await?;
        if round >= 3 {
            alone.push(time);
        }
        for (_, class, times) in &mut classes {
            let time = class.call().await?;
            class.close().await?;
            if round >= 3 {
                times.push(time);
            }
        }
    }
    let bare_median = median(&mut alone);
    table.times(
        &format!("bare broadcast to {students}"),
        alone,
        String::new(),
    );
    for (way, class, times) in classes {
        class.end().await?;
        let goal = match way {
            Way::Plain => 1.3,
            Way::Tls => 2.0,
        };
        let what = format!("a call to {students}, {}", way.word());
        table.beside(&what, times, bare_median, goal);
    }
    bare.end().await
}
