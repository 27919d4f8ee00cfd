//! What can be done, what has to be asked for it, and the words that the answers
//! stand for: one table.

use fifthpeg_core::{ReachStep, ready_necks};

use super::known::KnownHere;

/// One thing to do.
pub struct Thing {
    /// The word that chooses it as well as its number.
    pub word: &'static str,
    /// What it does.
    pub does: &'static str,
    /// The command.
    pub command: &'static [&'static str],
    /// What is asked.
    pub questions: fn(&KnownHere) -> Vec<Question>,
}

/// One question.
pub struct Question {
    /// The question.
    pub asks: String,
    /// What can be answered.
    pub answers: Answers,
}

/// What can be answered, as words of the command.
pub enum Answers {
    /// Anything, behind this option, or by itself; Enter is these words, if any.
    Typed {
        /// The option.
        option: Option<&'static str>,
        /// What Enter stands for.
        usual: Option<Vec<String>>,
    },
    /// One of several: what it is called, and its words.
    OneOf {
        /// All of them.
        each: Vec<(String, Vec<String>)>,
        /// The one that Enter takes.
        usual: usize,
    },
}

/// Everything that can be done.
pub const THINGS: [Thing; 5] = [
    Thing {
        word: "hold",
        does: "hold a lesson that others join from their machines",
        command: &["host"],
        questions: |known| {
            let name = known.class.as_deref().unwrap_or("Lesson");
            vec![
                typed(
                    &format!("What is the lesson called? Enter takes {name}."),
                    Some("--name"),
                    Some(words(&["--name", name])),
                ),
                neck(known),
                reach(known),
            ]
        },
    },
    Thing {
        word: "join",
        does: "join a lesson that somebody holds",
        command: &["join"],
        questions: |_| {
            vec![
                typed("What is your name in the lesson?", Some("--as"), None),
                typed(
                    "Which lesson? Press Enter to find it on this network, or type the address that the host shows.",
                    None,
                    Some(Vec::new()),
                ),
                Question {
                    asks: "How do you answer?".to_owned(),
                    answers: Answers::OneOf {
                        each: vec![
                            ("with keyboard or mouse".to_owned(), Vec::new()),
                            (
                                "on the instrument: the microphone listens".to_owned(),
                                words(&["--microphone"]),
                            ),
                        ],
                        usual: 0,
                    },
                },
            ]
        },
    },
    Thing {
        word: "alone",
        does: "practise alone, without a network",
        command: &["solo"],
        questions: |known| {
            let enter = match &known.player {
                Some(player) => format!("Enter goes on as {player}."),
                None => "Enter goes on without one.".to_owned(),
            };
            vec![
                typed(
                    &format!("What is your name? {enter}"),
                    Some("--as"),
                    Some(Vec::new()),
                ),
                neck(known),
                reach(known),
            ]
        },
    },
    Thing {
        word: "tune",
        does: "tune the strings, or try out the microphone and loudspeakers",
        command: &["listen"],
        questions: |known| vec![neck(known)],
    },
    Thing {
        word: "book",
        does: "look at the lesson book: how the lessons went",
        command: &["report"],
        questions: |known| {
            let mut questions = Vec::new();
            if known.classes.len() > 1 {
                let named = |class: &String| (class.clone(), words(&["--class", class]));
                let classes = known.classes.iter();
                questions.push(Question {
                    asks: "Which class?".to_owned(),
                    answers: Answers::OneOf {
                        usual: index(classes.clone().cloned(), known.class.as_deref()),
                        each: classes.map(named).collect(),
                    },
                });
            }
            questions.push(typed(
                "About whom? Press Enter for the whole class, or type a student's name.",
                Some("--student"),
                Some(Vec::new()),
            ));
            let page = ["--as", "page", "--to", "report.html", "--replace"];
            questions.push(Question {
                asks: "How?".to_owned(),
                answers: Answers::OneOf {
                    each: vec![
                        ("here, as text".to_owned(), Vec::new()),
                        (
                            "as the page report.html, to read and print".to_owned(),
                            words(&page),
                        ),
                    ],
                    usual: 0,
                },
            });
            questions
        },
    },
];

fn words(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

fn typed(asks: &str, option: Option<&'static str>, usual: Option<Vec<String>>) -> Question {
    Question {
        asks: asks.to_owned(),
        answers: Answers::Typed { option, usual },
    }
}

/// Where one is among several; the first if it is not.
fn index(mut all: impl Iterator<Item = String>, one: Option<&str>) -> usize {
    let found = one.and_then(|one| all.position(|other| other == one));
    found.unwrap_or_default()
}

fn neck(known: &KnownHere) -> Question {
    let necks = ready_necks().iter();
    Question {
        asks: "Which instrument and tuning?".to_owned(),
        answers: Answers::OneOf {
            usual: index(necks.clone().map(|neck| neck.name.to_owned()), known.neck),
            each: necks
                .map(|neck| (neck.title.to_owned(), words(&["--neck", neck.name])))
                .collect(),
        },
    }
}

fn reach(known: &KnownHere) -> Question {
    let steps = ReachStep::all();
    Question {
        asks: "How much of the neck? Start small; you can change it at any time.".to_owned(),
        answers: Answers::OneOf {
            usual: index(
                steps.iter().map(|step| step.word().to_owned()),
                known.reach.as_deref(),
            ),
            each: steps
                .iter()
                .map(|step| (step.title().to_owned(), words(&["--reach", step.word()])))
                .collect(),
        },
    }
}

impl Question {
    /// What stands before the answer.
    pub fn prompt(&self) -> String {
        match &self.answers {
            Answers::Typed { .. } => ">".to_owned(),
            Answers::OneOf { usual, .. } => format!("Number (Enter is {}):", usual + 1),
        }
    }

    /// The words that an answer stands for.
    ///
    /// # Errors
    /// One sentence, where it stands for none.
    pub fn words(&self, typed: &str) -> Result<Vec<String>, String> {
        match &self.answers {
            Answers::Typed { usual, .. } if typed.is_empty() => {
                usual.clone().ok_or_else(|| "Please type it.".to_owned())
            }
            Answers::Typed { option, .. } => {
                let option = option.map(str::to_owned).into_iter();
                Ok(option.chain([typed.to_owned()]).collect())
            }
            Answers::OneOf { each, usual } => {
                let number = match typed {
                    "" => Some(usual + 1),
                    typed => typed.parse().ok(),
                };
                let chosen = number.and_then(|n: usize| each.get(n.checked_sub(1)?));
                let chosen = chosen.map(|(_, words)| words.clone());
                chosen.ok_or_else(|| format!("Please type a number from 1 to {}.", each.len()))
            }
        }
    }
}
