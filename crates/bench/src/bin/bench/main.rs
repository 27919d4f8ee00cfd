//! Measures the host: a call to 30, 300, 1000 and 3000 students, 1000 answers at
//! once, memory for each student, a long lesson, starts and joins. Built and run
//! by `scripts/bench`.
//!
//! Host and students are processes on one machine over loopback, so this is what
//! the programs cost, without a network's own delay. Figures depend on the
//! machine: a bare tokio-tungstenite server, measured in turns with the host,
//! says how much of it is the machine's.

mod answers;
mod bare;
mod calls;
mod clock;
mod counting;
mod crowd;
mod hosting;
mod join;
mod lesson;
mod marks;
mod memory;
mod starts;
mod students;
mod table;
mod terminals;

use table::Table;

/// In the quick form no goal counts, but so much is a fault: far more than an
/// unoptimised build on a busy machine takes.
const ABSURD: f64 = 50.0;

type Failure = Box<dyn std::error::Error + Send + Sync>;

/// The parts, by the names with which some alone are asked for.
const PARTS: [&str; 5] = ["calls", "answers", "memory", "lesson", "terminals"];

/// What is measured, and how long.
struct Plan {
    parts: Vec<String>,
    students: Vec<usize>,
    /// Students who answer at once.
    answering: usize,
    /// Calls of the long lesson; a real one has about 360.
    calls: u32,
    quick: bool,
}

impl Plan {
    fn from(words: &[&str]) -> Result<Self, Failure> {
        let quick = words.contains(&"--quick");
        let mut plan = Self {
            parts: Vec::new(),
            students: if quick {
                vec![10, 40]
            } else {
                vec![30, 300, 1000, 3000]
            },
            answering: if quick { 40 } else { 1000 },
            calls: if quick { 4 } else { lesson::CALLS },
            quick,
        };
        let mut numbers = Vec::new();
        for word in words {
            match word.parse() {
                Ok(number) => numbers.push(number),
                Err(_) if PARTS.contains(word) => plan.parts.push((*word).to_owned()),
                Err(_) if *word == "--quick" => {}
                Err(_) => {
                    let known = PARTS.join(", ");
                    return Err(format!("'{word}' is none of {known}, --quick, a number").into());
                }
            }
        }
        match numbers.first() {
            Some(calls) if plan.parts == ["lesson"] => plan.calls = u32::try_from(*calls)?,
            Some(_) => plan.students = numbers,
            None => {}
        }
        Ok(plan)
    }

    fn has(&self, part: &str) -> bool {
        self.parts.is_empty() || self.parts.iter().any(|p| p == part)
    }
}

#[tokio::main]
async fn main() -> Result<(), Failure> {
    let arguments: Vec<_> = std::env::args().skip(1).collect();
    let arguments: Vec<_> = arguments.iter().map(String::as_str).collect();
    match arguments[..] {
        [students::STUDENTS, address, number, way] => {
            let number = number.parse()?;
            let way = hosting::Way::from_word(way).ok_or("no such way")?;
            clock::allow_connections(number)?;
            return students::students(address.parse()?, number, way).await;
        }
        [bare::CLIENTS, address, number, _] => {
            let number = number.parse()?;
            clock::allow_connections(number)?;
            return bare::clients(address.parse()?, number).await;
        }
        [memory::ALONE, kind, number] => return memory::alone(kind, number.parse()?).await,
        [lesson::ALONE, calls] => return lesson::alone(calls.parse()?).await,
        _ => {}
    }
    // Where the servers' tasks run as well: an order or a broadcast from
    // elsewhere would first have to wake a thread.
    tokio::spawn(measure(Plan::from(&arguments)?)).await?
}

async fn measure(plan: Plan) -> Result<(), Failure> {
    let mut table = Table::new();
    if plan.has("calls") {
        for &students in &plan.students {
            let rounds = if plan.quick {
                10
            } else {
                (30_000 / students).clamp(20, 300)
            };
            calls::measure(&mut table, students, rounds).await?;
        }
    }
    if plan.has("answers") {
        let rounds = if plan.quick { 5 } else { 20 };
        answers::measure(&mut table, plan.answering, rounds).await?;
    }
    if plan.has("memory") {
        memory::measure(&mut table, &plan.students).await?;
    }
    if plan.has("lesson") {
        lesson::measure(&mut table, plan.calls).await?;
    }
    if plan.has("terminals") && !plan.quick {
        terminals::measure(&mut table, 30, 300).await?;
        starts::measure(&mut table, 30, 30).await?;
        let folder = std::env::temp_dir().join(format!("bench-{}", std::process::id()));
        std::fs::create_dir_all(&folder)?;
        let marks = marks::measure(&mut table, &[1, 10, 30], 100, &folder).await;
        std::fs::remove_dir_all(&folder)?;
        marks?;
        join::measure(&mut table, 20).await?;
    }
    table.print();
    if plan.quick && table.worst() > ABSURD {
        return Err(format!("a ratio is beyond {ABSURD}: something is wrong").into());
    }
    Ok(())
}
