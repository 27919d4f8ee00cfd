//! The table that is printed.

use std::time::Duration;

/// Rows of a figure each.
pub struct Table(Vec<[String; 4]>);

impl Table {
    /// With its head.
    pub fn new() -> Self {
        Self(vec![["what", "median", "most", ""].map(String::from)])
    }

    /// Adds times, with a remark; gives back their median.
    pub fn times(&mut self, what: &str, mut times: Vec<Duration>, remark: &str) -> Duration {
        times.sort();
        let median = times[times.len() / 2];
        let most = times[times.len() - 1];
        self.row(what, &ms(median), &ms(most), remark);
        median
    }

    /// Adds a row.
    pub fn row(&mut self, what: &str, median: &str, most: &str, remark: &str) {
        self.0.push([what, median, most, remark].map(String::from));
    }

    /// Adds a remark to the last row.
    pub fn remark(&mut self, remark: String) {
        if let Some(row) = self.0.last_mut() {
            row[3] = remark;
        }
    }

    /// Prints it.
    pub fn print(&self) {
        for [what, median, most, remark] in &self.0 {
            println!("{what:<52} {median:>10} {most:>10}  {remark}");
        }
    }
}

fn ms(time: Duration) -> String {
    format!("{:.2} ms", time.as_secs_f64() * 1000.0)
}
