//! Lists of lists in two flat arrays: all items, and where each list starts.

use std::ops::Range;

/// Lists of `T`, list after list in one array.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Csr<T> {
    starts: Vec<u32>,
    items: Vec<T>,
}

impl<T: Copy> Csr<T> {
    /// No lists yet.
    pub(crate) fn new() -> Self {
        Self {
            starts: vec![0],
            items: Vec::new(),
        }
    }

    /// No lists yet, but room for this many items.
    pub(crate) fn with_room_for(items: usize) -> Self {
        Self {
            starts: vec![0],
            items: Vec::with_capacity(items),
        }
    }

    /// Appends one list.
    pub(crate) fn push(&mut self, list: impl IntoIterator<Item = T>) {
        self.items.extend(list);
        self.starts.push(self.items.len() as u32);
    }

    /// Gives back the room that no item needs.
    pub(crate) fn shrink_to_fit(&mut self) {
        self.items.shrink_to_fit();
    }

    /// Sorts `(list, item)` pairs into lists; the order within a list is the order of the pairs.
    pub(crate) fn from_pairs(lists: usize, pairs: &[(u32, T)]) -> Self {
        let mut starts = vec![0u32; lists + 1];
        for &(list, _) in pairs {
            starts[list as usize + 1] += 1;
        }
        for list in 0..lists {
            starts[list + 1] += starts[list];
        }
        let mut free = starts.clone();
        let mut items: Vec<T> = pairs.iter().map(|&(_, item)| item).collect();
        for &(list, item) in pairs {
            let slot = &mut free[list as usize];
            items[*slot as usize] = item;
            *slot += 1;
        }
        Self { starts, items }
    }

    /// The list with this number.
    pub(crate) fn list(&self, number: usize) -> &[T] {
        &self.items[self.starts[number] as usize..self.starts[number + 1] as usize]
    }

    /// The list with this number, to sort in place.
    pub(crate) fn list_mut(&mut self, number: usize) -> &mut [T] {
        &mut self.items[self.starts[number] as usize..self.starts[number + 1] as usize]
    }

    /// All lists, in order.
    pub(crate) fn lists(&self) -> impl Iterator<Item = &[T]> {
        (0..self.len()).map(|number| self.list(number))
    }

    /// Where each list lies among all items.
    pub(crate) fn ranges(&self) -> impl Iterator<Item = Range<u32>> + Clone {
        self.starts.windows(2).map(|pair| pair[0]..pair[1])
    }

    /// All items, list after list.
    pub(crate) fn items(&self) -> &[T] {
        &self.items
    }

    /// The list that the item with this place among all items is in.
    pub(crate) fn list_of(&self, item: u32) -> usize {
        self.starts.partition_point(|&start| start <= item) - 1
    }

    /// The same lists of what becomes of each item.
    pub(crate) fn map<U>(&self, of: impl Fn(&T) -> U) -> Csr<U> {
        Csr {
            starts: self.starts.clone(),
            items: self.items.iter().map(of).collect(),
        }
    }

    /// How many lists there are.
    pub(crate) fn len(&self) -> usize {
        self.starts.len() - 1
    }
}
