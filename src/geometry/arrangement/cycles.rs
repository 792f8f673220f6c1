//! The closed walks along half-edges: each goes once around one border of one face.

use super::west::first_west;
use super::{HalfEdges, NONE, OUTSIDE, steps};
use crate::geometry::point::{Pt, cross};

pub(super) struct Cycles {
    pub(super) of_half_edge: Vec<u32>,
    /// Twice the signed area each walk encloses: positive for the outer border of a face.
    pub(super) area2: Vec<i128>,
    /// The westernmost point of each walk and the one that follows it.
    pub(super) westmost: Vec<[Pt; 2]>,
}

/// What a chain adds to the walks along it.
struct Measured {
    /// Twice the area between it and the straight way from its start to its end.
    area2: i128,
    /// The westernmost point and the one that follows it, forwards and backwards.
    westmost: [[Pt; 2]; 2],
}

impl Measured {
    fn of(way: &[Pt]) -> Self {
        let first = [way[0], way[1]];
        let mut measured = Self {
            area2: 0,
            westmost: [first, [first[1], first[0]]],
        };
        for [from, to] in steps(way) {
            measured.area2 += cross(way[0], from, to);
            let [forwards, backwards] = &mut measured.westmost;
            *forwards = [from, to].min(*forwards);
            *backwards = [to, from].min(*backwards);
        }
        measured
    }
}

impl Cycles {
    pub(super) fn of(chains: &HalfEdges) -> Self {
        let measured: Vec<Measured> = chains.ways.lists().map(Measured::of).collect();
        let mut cycles = Self {
            of_half_edge: vec![NONE; chains.next.len()],
            area2: Vec::new(),
            westmost: Vec::new(),
        };
        for first in 0..chains.next.len() as u32 {
            if cycles.of_half_edge[first as usize] != NONE {
                continue;
            }
            let number = cycles.area2.len() as u32;
            let [origin, _] = chains.first_step(first);
            let mut area2 = 0;
            let mut westmost = measured[(first >> 1) as usize].westmost[(first & 1) as usize];
            let mut here = first;
            loop {
                cycles.of_half_edge[here as usize] = number;
                let along = &measured[(here >> 1) as usize];
                let [[from, _], [to, _]] = [here, here ^ 1].map(|end| chains.first_step(end));
                area2 += cross(origin, from, to);
                area2 += if here & 1 == 0 {
                    along.area2
                } else {
                    -along.area2
                };
                westmost = westmost.min(along.westmost[(here & 1) as usize]);
                here = chains.next[here as usize];
                if here == first {
                    break;
                }
            }
            cycles.area2.push(area2);
            cycles.westmost.push(westmost);
        }
        cycles
    }

    /// The face each cycle borders, and twice the area of each face.
    ///
    /// A cycle with positive area is the outer border of a face of its own. Any other is the outer
    /// border of a connected piece of linework: it lies in the face that is met first on the way
    /// west from its westernmost point.
    pub(super) fn faces(&self, chains: &HalfEdges) -> (Vec<u32>, Vec<i128>) {
        let mut face_of = vec![NONE; self.area2.len()];
        let mut area2 = vec![0];
        // From west to east: so the numbers of faces do not depend on where a file starts its
        // rings, and a piece of linework met on the way west is already settled.
        let mut cycles: Vec<usize> = (0..self.area2.len()).collect();
        cycles.sort_by_key(|&cycle| self.westmost[cycle]);
        let (outer, inner): (Vec<usize>, Vec<usize>) =
            cycles.into_iter().partition(|&cycle| self.area2[cycle] > 0);
        for cycle in outer {
            face_of[cycle] = area2.len() as u32;
            area2.push(self.area2[cycle]);
        }
        let places: Vec<Pt> = inner.iter().map(|&at| self.westmost[at][0]).collect();
        let met = first_west(&chains.ways, &places);
        for (cycle, met) in inner.into_iter().zip(met) {
            let face = match met {
                Some(half_edge) => face_of[self.of_half_edge[half_edge as usize] as usize],
                None => OUTSIDE,
            };
            face_of[cycle] = face;
            if face != OUTSIDE {
                area2[face as usize] += self.area2[cycle];
            }
        }
        (face_of, area2)
    }
}
