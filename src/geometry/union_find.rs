//! Disjoint sets: which things hang together.

/// Sets of the numbers 0..n; each is named by its lowest member.
#[derive(Debug, Clone)]
pub struct UnionFind {
    parent: Vec<u32>,
}

impl UnionFind {
    /// Every number in a set of its own.
    pub fn new(count: usize) -> Self {
        Self {
            parent: (0..count as u32).collect(),
        }
    }

    /// The lowest member of the set a number is in.
    pub fn find(&mut self, mut number: u32) -> u32 {
        while self.parent[number as usize] != number {
            let parent = self.parent[number as usize];
            self.parent[number as usize] = self.parent[parent as usize];
            number = parent;
        }
        number
    }

    /// Puts two sets together.
    pub fn unite(&mut self, a: u32, b: u32) {
        let [a, b] = [self.find(a), self.find(b)];
        self.parent[a.max(b) as usize] = a.min(b);
    }
}
