//! Which findings are printed: errors and what `check` finds all, of other findings a few of each kind and how many more.

use std::mem::{Discriminant, discriminant};

use cutbill::diag::{Diagnostic, Problem, Severity};

/// Findings of one kind and severity that are printed.
const FEW: usize = 20;

/// The findings of one kind and severity.
struct Kind {
    severity: Severity,
    problem: Discriminant<Problem>,
    count: usize,
    printed: usize,
}

/// Returns the lines that tell findings.
pub(super) fn lines(findings: &[Diagnostic], tells_all: bool) -> Vec<String> {
    let mut kinds: Vec<Kind> = Vec::new();
    let mut kind_of = |finding: &Diagnostic| {
        // What is said in free words is of no kind, and an error has to be mended.
        let is_single = matches!(finding.problem, Problem::Plain { .. });
        if tells_all || is_single || finding.severity == Severity::Error {
            return None;
        }
        let (severity, problem) = (finding.severity, discriminant(&finding.problem));
        let is_alike = |kind: &Kind| kind.severity == severity && kind.problem == problem;
        let known = kinds.iter().position(is_alike).unwrap_or_else(|| {
            kinds.push(Kind { severity, problem, count: 0, printed: 0 });
            kinds.len() - 1
        });
        kinds[known].count += 1;
        Some(known)
    };
    let of_findings: Vec<Option<usize>> = findings.iter().map(&mut kind_of).collect();
    let mut lines = Vec::new();
    for (finding, kind) in findings.iter().zip(of_findings) {
        let Some(kind) = kind.map(|kind| &mut kinds[kind]) else {
            lines.push(finding.to_string());
            continue;
        };
        kind.printed += 1;
        // One more takes no more room than saying so.
        if kind.printed <= FEW || kind.count == FEW + 1 {
            lines.push(finding.to_string());
        }
        if kind.printed == FEW && kind.count > FEW + 1 {
            let (severity, more) = (kind.severity, kind.count - FEW);
            lines.push(format!(
                "{severity}: {more} more like the last; `--all-findings` tells each"
            ));
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finding(severity: Severity, problem: Problem) -> Diagnostic {
        Diagnostic { severity, ..Diagnostic::placeless(problem) }
    }

    fn unused(severity: Severity, count: usize) -> Vec<Diagnostic> {
        let problem = |index| Problem::AssemblyUnused { assembly: format!("A{index}") };
        (1..=count).map(|index| finding(severity, problem(index))).collect()
    }

    #[test]
    fn many_of_a_kind_are_told_by_a_few() {
        let mut findings = unused(Severity::Warning, 30);
        let text = "said in free words".to_owned();
        let other = finding(Severity::Warning, Problem::Plain { text });
        findings.insert(25, other);
        let told = lines(&findings, false);
        assert_eq!(told.len(), 22);
        assert_eq!(told[19], "warning: assembly `A20` is on no bill");
        assert_eq!(told[20], "warning: 10 more like the last; `--all-findings` tells each");
        assert_eq!(told[21], "warning: said in free words");
        assert_eq!(lines(&findings, true).len(), 31);
    }

    #[test]
    fn a_few_are_told_as_they_are() {
        assert_eq!(lines(&unused(Severity::Warning, 21), false).len(), 21);
        assert_eq!(lines(&unused(Severity::Warning, 22), false).len(), 21);
    }

    #[test]
    fn every_error_is_told() {
        assert_eq!(lines(&unused(Severity::Error, 30), false).len(), 30);
    }
}
