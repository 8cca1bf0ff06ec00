//! Lays nodes out in layers from left to right: by the longest way to each, ordered so that few lines cross.
//!
//! As Sugiyama, Tagawa and Toda do it ("Methods for visual understanding of hierarchical system structures", 1981): longest-path layers, a bend on
//! every layer that a line passes, and each layer in turn ordered by the mean place of its neighbours. Circles are cut where they would close.
//! The same input gives the same layout: ties keep the order in which they came.

/// How often all layers are put in order, there and back.
const SWEEPS: usize = 8;

/// Where everything is.
pub(super) struct Layout {
    /// The layer and the middle height of each node.
    pub(super) places: Vec<(usize, f64)>,
    /// For each line the heights at which it passes the layers between its ends.
    pub(super) bends: Vec<Vec<f64>>,
    /// How many layers there are.
    pub(super) layers: usize,
    /// How high it is as a whole.
    pub(super) height: f64,
}

/// Nodes and bends, by layer.
struct Laying {
    /// The layer of each node, and of each bend behind them.
    layer: Vec<usize>,
    /// Those of each layer, in their order.
    order: Vec<Vec<usize>>,
    /// Neighbours in the layer before and behind.
    before: Vec<Vec<usize>>,
    behind: Vec<Vec<usize>>,
    /// The bends of each line.
    chains: Vec<Vec<usize>>,
}

/// Lays out `count` nodes with lines between them; a node is `high`, a bend is `slim`, and they stand `apart`.
pub(super) fn lay_out(count: usize, lines: &[(usize, usize)], (high, slim, apart): (f64, f64, f64)) -> Layout {
    let mut laying = Laying::of(count, lines);
    laying.put_in_order();
    let tall = |at: usize| if at < count { high } else { slim };
    let middle = laying.heights(&tall, apart);
    let bottom = (0..middle.len()).map(|at| middle[at] + tall(at) / 2.0).fold(0.0, f64::max);
    Layout {
        places: (0..count).map(|at| (laying.layer[at], middle[at])).collect(),
        bends: laying.chains.iter().map(|chain| chain.iter().map(|at| middle[*at]).collect()).collect(),
        layers: laying.order.len(),
        height: bottom,
    }
}

/// Which lines lead on; one that closes a circle does not.
fn acyclic(count: usize, lines: &[(usize, usize)]) -> Vec<bool> {
    let mut kept = vec![false; lines.len()];
    let mut reach: Vec<Vec<usize>> = vec![Vec::new(); count];
    for (at, (from, to)) in lines.iter().enumerate() {
        let (mut seen, mut waiting) = (vec![false; count], vec![*to]);
        while let Some(next) = waiting.pop() {
            if !std::mem::replace(&mut seen[next], true) {
                waiting.extend(&reach[next]);
            }
        }
        if !seen[*from] {
            kept[at] = true;
            reach[*from].push(*to);
        }
    }
    kept
}

/// The layer of each node: how many lines the longest way to it has.
fn longest(count: usize, lines: &[(usize, usize)], kept: &[bool]) -> Vec<usize> {
    let mut layer = vec![0; count];
    for _ in 0..count {
        let mut moved = false;
        for (from, to) in lines.iter().zip(kept).filter(|(_, kept)| **kept).map(|(line, _)| *line) {
            if layer[to] <= layer[from] {
                layer[to] = layer[from] + 1;
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
    layer
}

impl Laying {
    fn of(count: usize, lines: &[(usize, usize)]) -> Laying {
        let kept = acyclic(count, lines);
        let mut layer = longest(count, lines, &kept);
        pull_right(&mut layer, lines, &kept);
        let mut chains = Vec::new();
        let mut pairs = Vec::new();
        for (from, to) in lines {
            let (low, high) = if layer[*from] <= layer[*to] { (*from, *to) } else { (*to, *from) };
            let mut chain = Vec::new();
            let mut last = low;
            for own in layer[low] + 1..layer[high] {
                layer.push(own);
                let bend = layer.len() - 1;
                pairs.push((last, bend));
                chain.push(bend);
                last = bend;
            }
            if layer[last] != layer[high] {
                pairs.push((last, high));
            }
            chains.push(chain);
        }
        let mut order = vec![Vec::new(); layer.iter().max().map_or(0, |last| last + 1)];
        for (at, own) in layer.iter().enumerate() {
            order[*own].push(at);
        }
        let mut laying = Laying {
            before: vec![Vec::new(); layer.len()],
            behind: vec![Vec::new(); layer.len()],
            layer,
            order,
            chains,
        };
        for (from, to) in pairs {
            laying.behind[from].push(to);
            laying.before[to].push(from);
        }
        laying
    }

    /// Orders each layer by the mean place of its neighbours, there and back, and keeps the order with the fewest crossings.
    fn put_in_order(&mut self) {
        let mut best = (self.crossings(), self.order.clone());
        for sweep in 0..SWEEPS {
            let forward = sweep % 2 == 0;
            let layers: Vec<usize> = if forward {
                (1..self.order.len()).collect()
            } else {
                (0..self.order.len().saturating_sub(1)).rev().collect()
            };
            for layer in layers {
                let place = self.places();
                let neighbours = if forward { &self.before } else { &self.behind };
                let mean = |at: &usize| {
                    let own = &neighbours[*at];
                    let sum: usize = own.iter().map(|other| place[*other]).sum();
                    if own.is_empty() { place[*at] as f64 } else { sum as f64 / own.len() as f64 }
                };
                let mut own = self.order[layer].clone();
                own.sort_by(|a, b| mean(a).total_cmp(&mean(b)));
                self.order[layer] = own;
            }
            let crossings = self.crossings();
            if crossings < best.0 {
                best = (crossings, self.order.clone());
            }
        }
        self.order = best.1;
    }

    /// The place of each in its layer.
    fn places(&self) -> Vec<usize> {
        let mut place = vec![0; self.layer.len()];
        for layer in &self.order {
            layer.iter().enumerate().for_each(|(at, own)| place[*own] = at);
        }
        place
    }

    fn crossings(&self) -> usize {
        let place = self.places();
        let mut crossings = 0;
        for layer in &self.order {
            let lines: Vec<(usize, usize)> =
                layer.iter().flat_map(|from| self.behind[*from].iter().map(|to| (place[*from], place[*to]))).collect();
            for (at, one) in lines.iter().enumerate() {
                crossings += lines[at + 1..]
                    .iter()
                    .filter(|other| (one.0 < other.0 && one.1 > other.1) || (one.0 > other.0 && one.1 < other.1))
                    .count();
            }
        }
        crossings
    }

    /// How high the middle of each is: in the order of its layer, as near to its neighbours as there is room.
    fn heights(&self, tall: &dyn Fn(usize) -> f64, apart: f64) -> Vec<f64> {
        let mut middle = vec![0.0; self.layer.len()];
        for layer in &self.order {
            let mut y = 0.0;
            for at in layer {
                middle[*at] = y + tall(*at) / 2.0;
                y += tall(*at) + apart;
            }
        }
        for _ in 0..SWEEPS {
            let layers = (0..self.order.len()).chain((0..self.order.len()).rev());
            for layer in layers.map(|layer| &self.order[layer]) {
                let wanted = |at: &usize| {
                    let own: Vec<f64> =
                        self.before[*at].iter().chain(&self.behind[*at]).map(|other| middle[*other]).collect();
                    if own.is_empty() { middle[*at] } else { own.iter().sum::<f64>() / own.len() as f64 }
                };
                let wanted: Vec<f64> = layer.iter().map(wanted).collect();
                settle(&mut middle, layer, &wanted, tall, apart);
            }
        }
        let top = (0..middle.len()).map(|at| middle[at] - tall(at) / 2.0).fold(f64::INFINITY, f64::min);
        middle.iter_mut().for_each(|own| *own -= top);
        middle
    }
}

/// What nothing leads to moves next to what it leads to: a base that one record at the far end takes a value from need not stand at the start.
fn pull_right(layer: &mut [usize], lines: &[(usize, usize)], kept: &[bool]) {
    for at in 0..layer.len() {
        let lead = || lines.iter().zip(kept).filter(|(_, kept)| **kept).map(|(line, _)| *line);
        if lead().all(|(_, to)| to != at) {
            let nearest = lead().filter(|(from, _)| *from == at).map(|(_, to)| layer[to]).min();
            layer[at] = nearest.map_or(layer[at], |nearest| nearest.saturating_sub(1).max(layer[at]));
        }
    }
}

/// Puts a layer where it wants to be: groups that would overlap are put side by side around the mean of what they want.
fn settle(middle: &mut [f64], layer: &[usize], wanted: &[f64], tall: &dyn Fn(usize) -> f64, apart: f64) {
    // A block: its members, the sum of where its start would be for each, and how tall it is.
    let mut blocks: Vec<(Vec<usize>, f64, f64)> = Vec::new();
    for (at, want) in layer.iter().zip(wanted) {
        let mut block = (vec![*at], want - tall(*at) / 2.0, tall(*at) + apart);
        while let Some(last) = blocks.last() {
            let start = |block: &(Vec<usize>, f64, f64)| block.1 / block.0.len() as f64;
            if start(last) + last.2 <= start(&block) + 1e-9 {
                break;
            }
            let Some((mut members, sum, high)) = blocks.pop() else { break };
            let sum = sum + block.1 - high * block.0.len() as f64;
            members.extend(block.0);
            block = (members, sum, high + block.2);
        }
        blocks.push(block);
    }
    for (members, sum, _) in blocks {
        let mut y = sum / members.len() as f64;
        for at in members {
            middle[at] = y + tall(at) / 2.0;
            y += tall(at) + apart;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_longest_way_makes_the_layer_and_a_long_line_bends() {
        let layout = lay_out(4, &[(0, 1), (1, 2), (2, 3), (0, 3)], (20.0, 4.0, 6.0));
        assert_eq!(layout.places.iter().map(|(layer, _)| *layer).collect::<Vec<_>>(), [0, 1, 2, 3]);
        assert_eq!(layout.bends.iter().map(Vec::len).collect::<Vec<_>>(), [0, 0, 0, 2]);
    }

    #[test]
    fn lines_that_need_not_cross_do_not() {
        // Given in the worst order: each answers the one at the other end.
        let lines = [(0, 1), (0, 2), (0, 3), (1, 6), (2, 5), (3, 4)];
        let mut laying = Laying::of(7, &lines);
        assert_eq!(laying.crossings(), 3);
        laying.put_in_order();
        assert_eq!(laying.crossings(), 0);
    }

    #[test]
    fn a_circle_is_laid_out_all_the_same() {
        let layout = lay_out(3, &[(0, 1), (1, 2), (2, 0), (1, 1)], (20.0, 4.0, 6.0));
        assert_eq!(layout.layers, 3);
    }

    proptest! {
        #[test]
        fn nothing_overlaps_and_every_line_leads_on(
            count in 1usize..40,
            lines in proptest::collection::vec((0usize..40, 0usize..40), 0..80),
        ) {
            let lines: Vec<(usize, usize)> = lines.into_iter().map(|(a, b)| (a % count, b % count)).collect();
            let layout = lay_out(count, &lines, (20.0, 4.0, 6.0));
            for (at, (layer, y)) in layout.places.iter().enumerate() {
                prop_assert!(*y >= 9.9 && *y <= layout.height - 9.9, "{y} of {}", layout.height);
                for (other, z) in &layout.places[at + 1..] {
                    prop_assert!(layer != other || (y - z).abs() > 25.9, "{y} and {z}");
                }
            }
            let kept = acyclic(count, &lines);
            for ((from, to), kept) in lines.iter().zip(kept) {
                prop_assert!(!kept || layout.places[*from].0 < layout.places[*to].0);
            }
        }
    }
}
