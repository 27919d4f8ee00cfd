//! The table that is printed.

use std::time::Duration;

/// Rows of a figure each.
pub struct Table {
    rows: Vec<[String; 4]>,
    worst: f64,
}

/// The time in the middle; sorts them.
pub fn median(times: &mut [Duration]) -> Duration {
    times.sort();
    times.get(times.len() / 2).copied().unwrap_or_default()
}

impl Table {
    /// With its head.
    pub fn new() -> Self {
        Self {
            rows: vec![["what", "median", "95 %", ""].map(String::from)],
            worst: 0.0,
        }
    }

    /// Adds times, with a remark; gives back their median.
    pub fn times(&mut self, what: &str, mut times: Vec<Duration>, remark: String) -> Duration {
        let middle = median(&mut times);
        let most = times[(times.len() - 1) * 95 / 100];
        self.row(what, &ms(middle), &ms(most), &remark);
        middle
    }

    /// Adds times beside those of a bare server, with what was aimed at, if
    /// anything was.
    pub fn beside(&mut self, what: &str, mut times: Vec<Duration>, bare: Duration, goal: f64) {
        let ratio = ratio(median(&mut times), bare);
        self.worst = self.worst.max(ratio);
        let remark = if goal.is_nan() {
            format!("{ratio:.2} times the bare one")
        } else {
            format!("{ratio:.2} times the bare one (goal {goal})")
        };
        self.times(what, times, remark);
    }

    /// Adds a row.
    pub fn row(&mut self, what: &str, median: &str, most: &str, remark: &str) {
        self.rows
            .push([what, median, most, remark].map(String::from));
        eprintln!("  {what}: {median} {remark}");
    }

    /// Adds a remark to the last row.
    pub fn remark(&mut self, remark: String) {
        if let Some(row) = self.rows.last_mut() {
            row[3] = remark;
        }
    }

    /// The greatest ratio to a bare server.
    pub fn worst(&self) -> f64 {
        self.worst
    }

    /// Prints it.
    pub fn print(&self) {
        for [what, median, most, remark] in &self.rows {
            println!("{what:<52} {median:>10} {most:>10}  {remark}");
        }
    }
}

fn ratio(time: Duration, alone: Duration) -> f64 {
    time.as_secs_f64() / alone.as_secs_f64().max(1e-9)
}

fn ms(time: Duration) -> String {
    format!("{:.2} ms", time.as_secs_f64() * 1000.0)
}
