//! Stories of which one tells the others: a week of drives tells the same one over and over.

use super::kind::Kind;
use super::story::Story;

/// Stories of one family and the same kinds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alike {
    /// The worst of them, the first of equals: index into the stories.
    pub worst: usize,
    /// The others, in order of their beginning.
    pub others: Vec<usize>,
}

/// The stories, told by one another, in order of first appearance.
pub(super) fn of(stories: &[Story]) -> Vec<Alike> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (n, story) in stories.iter().enumerate() {
        match groups.iter_mut().find(|g| same(&stories[g[0]], story)) {
            Some(group) => group.push(n),
            None => groups.push(vec![n]),
        }
    }
    groups
        .into_iter()
        .map(|mut group| {
            let most = group.iter().map(|&n| stories[n].times).max();
            let worst = group.iter().position(|&n| Some(stories[n].times) == most).unwrap_or(0);
            Alike { worst: group.remove(worst), others: group }
        })
        .collect()
}

fn same(a: &Story, b: &Story) -> bool {
    let has = |s: &Story, kind: Kind| s.kinds.iter().any(|named| named.kind == kind);
    a.family == b.family && a.kinds.len() == b.kinds.len() && a.kinds.iter().all(|named| has(b, named.kind))
}
