//! Lists, names with what they are, and what stands beside each other.

use super::band::{Band, beside};
use super::flow::{Frame, Setter};
use super::inline::atoms;
use super::tags::Sort;
use super::tree::{Node, Tagged};

impl Setter<'_> {
    /// A list, or the numbers of rows by state.
    pub(super) fn list(&mut self, own: &Tagged, frame: Frame) {
        let entries: Vec<&Tagged> = own.inside.iter().filter_map(Node::element).filter(|it| it.tag == "li").collect();
        if own.is("counts") {
            return self.counts(&entries, frame);
        }
        let is = self.tags.add(frame.is, Sort::List);
        let plain = ["plain", "problems", "revisions"].iter().any(|class| own.is(class));
        let room = frame.style.size * if own.is("lines") || own.is("revisions") { 0.12 } else { 0.3 };
        for (number, entry) in entries.iter().enumerate() {
            self.named(entry);
            let entry_is = self.tags.add(is, Sort::Entry);
            let body = self.tags.add(entry_is, Sort::Body);
            let own_frame = Frame { is: body, bare: true, ..frame };
            self.space(room);
            if plain {
                let hang = if frame.bare { 0.0 } else { frame.style.size };
                self.flow(&entry.inside, Frame { hang, ..own_frame });
            } else {
                let sign = if own.tag == "ol" { format!("{}.", number + 1) } else { "–".to_string() };
                self.signed(&sign, entry_is, entry, own_frame);
            }
        }
        self.space(frame.style.size * 0.45);
    }

    /// An entry with a sign before it.
    fn signed(&mut self, sign: &str, is: usize, entry: &Tagged, frame: Frame) {
        let mut words = Vec::new();
        atoms(&mut self.fonts, sign, frame.style, &mut words);
        let inside = frame.style.size * if sign.len() > 3 { 1.9 } else { 1.2 };
        let label = self.tags.add(is, Sort::Label);
        let room = self.waiting();
        let sign = self.apart(|setter| setter.set(&words, Frame { is: label, ..frame }, false));
        let start = self.bands.len();
        self.flow(&entry.inside, frame.within(inside));
        match self.bands.get_mut(start) {
            Some(first) => first.inks.splice(0..0, sign.into_iter().flat_map(|band| band.inks)).for_each(drop),
            None => self.bands.extend(sign.into_iter().map(|band| Band { before: room, ..band })),
        }
    }

    /// Numbers of rows by state, beside each other.
    fn counts(&mut self, entries: &[&Tagged], frame: Frame) {
        let is = self.tags.add(frame.is, Sort::List);
        let width = frame.width / entries.len().max(1) as f32;
        let columns = entries.iter().enumerate().map(|(at, entry)| {
            let own = self.tags.add(is, Sort::Entry);
            let own = self.tags.add(own, Sort::Body);
            let frame = Frame { x: frame.x + width * at as f32, width, is: own, bare: true, ..frame.size(8.0) };
            let (number, rest): (Vec<Node>, Vec<Node>) =
                entry.inside.iter().cloned().partition(|node| node.element().is_some_and(|own| own.tag == "b"));
            self.apart(|setter| {
                let numbers: Vec<Node> = number.into_iter().flat_map(|node| node.into_inside()).collect();
                setter.paragraph(&numbers, frame.size(16.0));
                setter.paragraph(&rest, frame);
            })
        });
        let columns = columns.collect();
        self.space(6.0);
        beside(columns).into_iter().for_each(|band| self.push(band));
        self.space(8.0);
    }

    /// Names and what they are, two pairs beside each other where there is room.
    pub(super) fn facts(&mut self, own: &Tagged, frame: Frame) {
        let pairs: Vec<&Tagged> = own.inside.iter().filter_map(Node::element).filter(|it| it.tag == "div").collect();
        let is = self.tags.add(frame.is, Sort::List);
        let two = !own.is("facts") || own.is("two");
        let label = if own.is("facts") { 66.0 } else { 0.0 };
        let gap = 14.0;
        let width = if two { (frame.width - gap) / 2.0 } else { frame.width };
        self.space(4.0);
        for row in pairs.chunks(if two { 2 } else { 1 }) {
            let columns = row.iter().enumerate().flat_map(|(at, pair)| {
                let frame = Frame { x: frame.x + (width + gap) * at as f32, width, is, ..frame.size(8.2) };
                self.fact(pair, frame, label)
            });
            let columns = columns.collect();
            self.space(2.0);
            beside(columns).into_iter().for_each(|band| self.push(band));
        }
        self.space(7.0);
    }

    /// A name and what it is: beside each other, or below where the name has no room.
    fn fact(&mut self, pair: &Tagged, frame: Frame, label: f32) -> Vec<Vec<Band>> {
        let entry = self.tags.add(frame.is, Sort::Entry);
        let (name, body) = (self.tags.add(entry, Sort::Label), self.tags.add(entry, Sort::Body));
        let part = |tag: &'static str| pair.inside.iter().filter_map(Node::element).filter(move |own| own.tag == tag);
        let frame = Frame { bare: true, ..frame };
        let narrow = if label > 0.0 { label - 4.0 } else { frame.width };
        let named = if label > 0.0 { frame.soft() } else { frame.bold() };
        let named = Frame { is: name, width: narrow, ..named };
        let said = Frame { is: body, ..frame.within(label) };
        if label > 0.0 {
            return vec![
                self.apart(|setter| part("dt").for_each(|own| setter.flow(&own.inside, named))),
                self.apart(|setter| part("dd").for_each(|own| setter.flow(&own.inside, said))),
            ];
        }
        vec![self.apart(|setter| {
            part("dt").for_each(|own| setter.flow(&own.inside, named));
            part("dd").for_each(|own| setter.flow(&own.inside, said));
        })]
    }

    /// What a requirement says, and beside it what is asked.
    pub(super) fn sides(&mut self, own: &Tagged, frame: Frame) {
        let gap = 14.0;
        let left = (frame.width - gap) * 0.53;
        let halves = own.inside.iter().filter_map(Node::element).enumerate().map(|(at, half)| {
            let (x, width) = if at == 0 { (0.0, left) } else { (left + gap, frame.width - left - gap) };
            let size = if at == 0 { frame.style.size + 1.0 } else { frame.style.size };
            let frame = Frame { x: frame.x + x, width, ..frame.size(size) };
            self.apart(|setter| setter.flow(&half.inside, frame))
        });
        let halves = halves.collect();
        self.space(3.0);
        beside(halves).into_iter().for_each(|band| self.push(band));
        self.space(5.0);
    }
}
