//! The form in which wrong books are written down.

use std::fmt;

/// The cases of one file.
pub(crate) struct Suite {
    /// What stands before the first case.
    opening: String,
    pub(crate) cases: Vec<Case>,
}

/// A wrong book: the files in which it differs from the base, what is asked, and what is said.
#[derive(Clone)]
pub(crate) struct Case {
    pub(crate) name: String,
    pub(crate) files: Vec<File>,
    /// The question, empty for `check`.
    pub(crate) ask: String,
    pub(crate) expected: String,
}

/// A file of a case.
#[derive(Clone)]
pub(crate) struct File {
    pub(crate) name: String,
    /// How its text becomes bytes; nothing for plain UTF-8.
    pub(crate) encoding: Option<String>,
    /// Nothing if the file of the base is to be missing.
    pub(crate) text: Option<String>,
}

impl Suite {
    /// Reads cases headed `=== name`, their parts headed `--- file`, `--- ask ..` and `--- findings`.
    pub(crate) fn parse(text: &str) -> Result<Suite, String> {
        let mut suite = Suite { opening: String::new(), cases: Vec::new() };
        for line in text.lines() {
            if let Some(name) = line.strip_prefix("=== ") {
                suite.cases.push(Case {
                    name: name.to_owned(),
                    files: Vec::new(),
                    ask: String::new(),
                    expected: String::new(),
                });
                continue;
            }
            let Some(case) = suite.cases.last_mut() else {
                suite.opening.push_str(line);
                suite.opening.push('\n');
                continue;
            };
            case.take(line)?;
        }
        for case in &mut suite.cases {
            case.close()?;
        }
        Ok(suite)
    }
}

/// The head of the part that lines go to, kept as a file until the case is whole.
const FINDINGS: &str = "findings";

impl Case {
    fn take(&mut self, line: &str) -> Result<(), String> {
        if let Some(head) = line.strip_prefix("--- ") {
            if let Some(question) = head.strip_prefix("ask ") {
                question.clone_into(&mut self.ask);
                return Ok(());
            }
            let file = match head.strip_prefix("no ") {
                Some(name) => File { name: name.to_owned(), encoding: None, text: None },
                None => {
                    let (name, encoding) = match head.split_once(" as ") {
                        Some((name, encoding)) => (name, Some(encoding.to_owned())),
                        None => (head, None),
                    };
                    File { name: name.to_owned(), encoding, text: Some(String::new()) }
                }
            };
            self.files.push(file);
            return Ok(());
        }
        let file = self.files.last_mut().and_then(|file| file.text.as_mut());
        match file {
            Some(text) => {
                text.push_str(line);
                text.push('\n');
            }
            None if line.is_empty() => {}
            None => return Err(format!("`{}`: `{line}` stands in no part", self.name)),
        }
        Ok(())
    }

    /// Takes the findings out from among the files.
    fn close(&mut self) -> Result<(), String> {
        match self.files.pop() {
            Some(File { name, text: Some(text), .. }) if name == FINDINGS => {
                let text = text.trim_end_matches('\n');
                self.expected = if text.is_empty() { String::new() } else { format!("{text}\n") };
                Ok(())
            }
            _ => Err(format!("`{}` does not end with its findings", self.name)),
        }
    }
}

impl fmt::Display for Suite {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.opening)?;
        for (index, case) in self.cases.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{case}")?;
        }
        Ok(())
    }
}

impl fmt::Display for Case {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "=== {}", self.name)?;
        for File { name, encoding, text } in &self.files {
            match (text, encoding) {
                (None, _) => writeln!(f, "--- no {name}")?,
                (Some(text), None) => write!(f, "--- {name}\n{text}")?,
                (Some(text), Some(encoding)) => write!(f, "--- {name} as {encoding}\n{text}")?,
            }
        }
        if !self.ask.is_empty() {
            writeln!(f, "--- ask {}", self.ask)?;
        }
        write!(f, "--- {FINDINGS}\n{}", self.expected)
    }
}
