use crate::model::{AssemblyId, Book, Component, LineId, Parent, id};

impl Book {
    /// Returns each line that closes a cycle, with the names on the way from an assembly to itself. A book that was read has
    /// none; one that swaps have changed may.
    #[must_use]
    pub fn cycles(&self) -> Vec<(LineId, Vec<String>)> {
        let taken = |assembly: usize| {
            let lines = self.lines_of(Parent::Assembly(AssemblyId(id(assembly))));
            let taken = lines.iter().filter_map(|line| match self.line(*line).component {
                Component::Assembly(child) => Some((child.index(), line.index())),
                Component::Item(_) => None,
            });
            taken.collect()
        };
        let taken: Vec<Vec<(usize, usize)>> = (0..self.assemblies.len()).map(taken).collect();
        let name = |assembly: usize| self.assemblies[assembly].name.clone();
        let found = cycles(&taken).into_iter();
        found.map(|(line, path)| (LineId(id(line)), path.into_iter().map(name).collect())).collect()
    }
}

/// Finds each line that closes a cycle among assemblies, of which each takes others by lines: `taken` holds pairs of an
/// assembly and a line. Returns the line with the assemblies on the way, the first of which is the last as well.
///
/// A walk in depth without recursion: bills may be deep.
#[must_use]
pub fn cycles(taken: &[Vec<(usize, usize)>]) -> Vec<(usize, Vec<usize>)> {
    #[derive(Clone, Copy, PartialEq)]
    enum State {
        New,
        Open,
        Done,
    }
    let mut found = Vec::new();
    let mut states = vec![State::New; taken.len()];
    for root in 0..taken.len() {
        if states[root] != State::New {
            continue;
        }
        states[root] = State::Open;
        let mut path: Vec<(usize, usize)> = vec![(root, 0)];
        while let Some((assembly, next)) = path.last_mut() {
            let Some(&(component, line)) = taken[*assembly].get(*next) else {
                states[*assembly] = State::Done;
                path.pop();
                continue;
            };
            *next += 1;
            match states[component] {
                State::New => {
                    states[component] = State::Open;
                    path.push((component, 0));
                }
                State::Open => {
                    let start = path.iter().position(|(open, _)| *open == component);
                    let start = start.expect("an open assembly is on the path");
                    let members = path[start..].iter().map(|(open, _)| *open);
                    found.push((line, members.chain([component]).collect()));
                }
                State::Done => {}
            }
        }
    }
    found
}
