//! The branches of a circuit under one setup, with faults laid over them.

use std::sync::Arc;

use super::patch::Patch;
use super::sparse::Analysis;
use crate::circuit::{Change, Overlay, PartId, Place, Spot};
use crate::device::{Law, Values};

/// A branch between two nets.
#[derive(Debug, Clone)]
pub struct Element {
    /// The net that the current leaves; 0 is ground.
    pub from: usize,
    /// The net that it flows to.
    pub to: usize,
    /// What it does.
    pub law: Law,
    /// The part it belongs to; `None` for bridges, leads and meters.
    pub origin: Option<Origin>,
    /// Pairs of the part's pins whose volts drive it, by their numbers.
    pub senses: Vec<[usize; 2]>,
}

impl Element {
    /// The part it belongs to.
    pub fn part(&self) -> Option<PartId> {
        self.origin.map(|origin| origin.part)
    }
}

/// The part that a branch belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Origin {
    /// The part.
    pub part: PartId,
    /// Its number among the part's own branches; `None` for a leak that an overlay puts across.
    pub number: Option<usize>,
    /// The numbers of the pins it lies between.
    pub pins: [usize; 2],
}

/// The branches to solve.
#[derive(Debug, Clone)]
pub struct Network {
    /// Number of nets, ground included, and those that overlays add.
    pub n_nets: usize,
    /// The branches.
    pub elements: Vec<Element>,
    /// Net of every pin of every part.
    pub(super) pins: Vec<Vec<usize>>,
    /// What an overlay made of the parts.
    pub(super) patch: Patch,
    /// Which conditions of every part hold, one bit each.
    pub(super) states: Vec<u8>,
    /// Pins that feed chips and take their current back, by part and number.
    pub(super) rails: Vec<(PartId, usize)>,
    /// Resistances of an overlay that count as shorts, as indices into `elements`.
    pub(super) shorts: Vec<usize>,
    /// Where the equations of the healthy board have their entries, on a board of many nets.
    pub(super) analysis: Option<Arc<Analysis>>,
}

/// A resistance that an overlay adds counts as a short up to here, in ohms: the upper end of what
/// "shorted" means in the fault list.
pub(super) const SHORT_OHMS: f64 = 1.0;

impl Network {
    /// The net that a lead touches.
    pub fn net_of(&self, spot: Spot) -> usize {
        match spot {
            Spot::Net(net) => net.index(),
            Spot::Pin(part, pin) => self.pins[part.index()][pin],
        }
    }

    /// The nets that the leads of a meter touch at a place, red first.
    pub fn leads(&self, place: Place) -> (usize, usize) {
        match place {
            Place::At(spot) => (self.net_of(spot), 0),
            Place::Between(red, black) => (self.net_of(red), self.net_of(black)),
            Place::Part(part) => (self.pin_net(part, 0), self.pin_net(part, 1)),
        }
    }

    /// The net of a pin, by part and pin number.
    pub fn pin_net(&self, part: PartId, pin: usize) -> usize {
        self.pins[part.index()][pin]
    }

    /// The pairs of nets whose volts drive an element.
    pub(super) fn sensed(&self, element: &Element) -> Vec<(usize, usize)> {
        let Some(origin) = element.origin else { return Vec::new() };
        let nets = &self.pins[origin.part.index()];
        element.senses.iter().map(|&[from, to]| (nets[from], nets[to])).collect()
    }

    /// A new net that nothing touches yet.
    pub fn new_net(&mut self) -> usize {
        self.n_nets += 1;
        self.n_nets - 1
    }

    /// Adds a branch that belongs to no part; returns its number.
    pub fn add(&mut self, from: usize, to: usize, law: Law) -> usize {
        self.elements.push(Element { from, to, law, origin: None, senses: Vec::new() });
        self.elements.len() - 1
    }

    /// Moves one pin of a part to a net of its own, joined to its old one by `ohms`, or by nothing.
    ///
    /// Returns the number of the joining branch, which runs from the old net to the pin.
    pub fn break_pin(&mut self, part: PartId, pin: usize, ohms: Option<f64>) -> Option<usize> {
        let old = self.pins[part.index()][pin];
        let new = self.new_net();
        self.pins[part.index()][pin] = new;
        // Ends are found by pin, not by net: two pins of one part may share a net.
        for element in &mut self.elements {
            if let Some(origin) = element.origin.filter(|origin| origin.part == part) {
                if origin.pins[0] == pin {
                    element.from = new;
                }
                if origin.pins[1] == pin {
                    element.to = new;
                }
            }
        }
        ohms.map(|ohms| self.add(old, new, Law::conductance(1.0 / ohms)))
    }

    /// Puts the part's own branches in, between the nets of its pins.
    pub(super) fn put_part(&mut self, part: PartId, values: &Values<'_>, swapped: bool) {
        let branches = crate::device::of(values.part).branches(values);
        for (number, branch) in branches.into_iter().enumerate() {
            let pins = if swapped { [branch.to, branch.from] } else { [branch.from, branch.to] };
            let nets = &self.pins[part.index()];
            self.elements.push(Element {
                from: nets[pins[0]],
                to: nets[pins[1]],
                law: branch.law,
                origin: Some(Origin { part, number: Some(number), pins }),
                senses: branch.senses,
            });
        }
    }

    /// Takes branches out, and keeps the numbers of the shorts in step.
    fn take(&mut self, gone: impl Fn(&Element) -> bool) {
        let mut number = 0;
        let numbers: Vec<Option<usize>> = self
            .elements
            .iter()
            .map(|element| {
                let kept = !gone(element);
                number += usize::from(kept);
                kept.then(|| number - 1)
            })
            .collect();
        self.shorts = self.shorts.iter().filter_map(|&idx| numbers[idx]).collect();
        self.elements.retain(|element| !gone(element));
    }

    /// Lays changes over the network.
    pub(super) fn lay(&mut self, overlay: &Overlay, assembly: &super::Assembly<'_>, setup: usize) {
        for change in &overlay.changes {
            self.patch.note(change);
            match *change {
                Change::Removed { part } => self.take(|element| element.part() == Some(part)),
                Change::Across { part, ohms } => self.put_inside(part, [0, 1], ohms),
                Change::Inside { part, pins, ohms } => self.put_inside(part, pins, ohms),
                Change::Bridge { nets, ohms } => {
                    let idx =
                        self.add(nets[0].index(), nets[1].index(), Law::conductance(1.0 / ohms));
                    if ohms <= SHORT_OHMS {
                        self.shorts.push(idx);
                    }
                }
                Change::Joint { part, pin, ohms } => {
                    self.break_pin(part, pin, ohms);
                }
                Change::Exchanged { parts: [first, second] } => {
                    self.rebuild(first, assembly, setup);
                    self.rebuild(second, assembly, setup);
                }
                Change::Parameter { part, .. }
                | Change::Struck { part, .. }
                | Change::Reversed { part }
                | Change::Fitted { part } => self.rebuild(part, assembly, setup),
            }
        }
    }

    /// A resistance between two pins of a part, inside it.
    fn put_inside(&mut self, part: PartId, pins: [usize; 2], ohms: f64) {
        let nets = &self.pins[part.index()];
        self.elements.push(Element {
            from: nets[pins[0]],
            to: nets[pins[1]],
            law: Law::conductance(1.0 / ohms),
            origin: Some(Origin { part, number: None, pins }),
            senses: Vec::new(),
        });
        if ohms <= SHORT_OHMS {
            self.shorts.push(self.elements.len() - 1);
        }
    }

    /// The values that a part has in this network.
    pub fn values<'a>(
        &self,
        part: PartId,
        assembly: &super::Assembly<'a>,
        setup: usize,
    ) -> Values<'a> {
        self.patch.values(part, assembly, setup, self.states[part.index()])
    }

    /// Which conditions of every part hold, one bit each.
    pub fn states(&self) -> &[u8] {
        &self.states
    }

    /// Switches a part: its conditions that hold are those of `on`.
    pub(super) fn switch(
        &mut self,
        part: PartId,
        on: u8,
        assembly: &super::Assembly<'_>,
        setup: usize,
    ) {
        self.states[part.index()] = on;
        self.rebuild(part, assembly, setup);
    }

    /// Compiles the part anew, if it is connected in this setup at all.
    fn rebuild(&mut self, part: PartId, assembly: &super::Assembly<'_>, setup: usize) {
        if self.patch.is_removed(part) {
            return;
        }
        // A leak that an overlay puts across the part stays.
        self.take(|element| {
            element.origin.is_some_and(|origin| origin.part == part && origin.number.is_some())
        });
        if assembly.is_connected(part, setup) {
            let values = self.values(part, assembly, setup);
            let swapped = self.patch.is_reversed(part);
            self.put_part(part, &values, swapped);
        }
    }
}
