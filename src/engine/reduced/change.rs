//! Changes of a reduced board: branches that are gone, others in their place, and new nets.

use super::super::network::Origin;
use super::{Reduced, join_all};
use crate::circuit::PartId;
use crate::device::Law;

/// A branch that is there instead of one of the board, or besides all of them.
#[derive(Debug, Clone)]
pub struct Active {
    /// The branch of the board that it replaces.
    pub element: Option<usize>,
    /// The net that its current leaves; nets that changes made come after those of the board.
    pub from: usize,
    /// The net that it enters.
    pub to: usize,
    /// Its law; `None` where the branch of the board is only gone.
    pub law: Option<Law>,
    /// The pairs of nets that drive it.
    pub senses: Vec<(usize, usize)>,
    /// The part that it belongs to.
    pub origin: Option<Origin>,
}

/// What is different from the board.
#[derive(Debug, Clone, Default)]
pub struct Changes {
    /// The branches.
    pub list: Vec<Active>,
    /// Ties of islands to ground that are there now, or are gone; see [`Reduced::tie`].
    pub(super) ties: Vec<Active>,
    /// The nets that the changes made, each with the net it was part of.
    pub new_nets: Vec<usize>,
    /// Whether a net floats, for all nets; empty where none does.
    pub floating: Vec<bool>,
}

impl Changes {
    /// Whether a net has no way to ground.
    pub fn floats(&self, net: usize) -> bool {
        self.floating.get(net).copied().unwrap_or(false)
    }

    /// What replaces a branch of the board.
    pub fn at(&self, element: usize) -> Option<&Active> {
        self.list.iter().find(|active| active.element == Some(element))
    }
}

impl Reduced {
    /// A branch of the board as an active with another law; `None` for no branch at all.
    pub fn instead(&self, element: usize, law: Option<Law>) -> Active {
        let base = &self.elements[element];
        Active {
            element: Some(element),
            from: base.from,
            to: base.to,
            law,
            senses: base.senses.clone(),
            origin: base.origin,
        }
    }

    /// A branch between two nets that belongs to no part.
    pub fn between(from: usize, to: usize, law: Law) -> Active {
        Active { element: None, from, to, law: Some(law), senses: Vec::new(), origin: None }
    }

    /// The ends of a branch of the board, and what drives it.
    pub fn ends(&self, element: usize) -> ((usize, usize), &[(usize, usize)]) {
        let base = &self.elements[element];
        ((base.from, base.to), &base.senses)
    }

    /// The part that a branch of the board belongs to.
    pub fn origin(&self, element: usize) -> Option<Origin> {
        self.elements[element].origin
    }

    /// The row of a given voltage's own current, by which answers tell what a volt more does.
    pub fn own_row(&self, element: usize) -> Option<usize> {
        self.elements[element].own
    }

    /// The net of the board that a net is, or was part of before changes made it one of its own.
    pub fn own_net(&self, changes: &Changes, mut net: usize) -> usize {
        while net >= self.n_nets {
            net = changes.new_nets[net - self.n_nets];
        }
        net
    }

    /// Ties islands that float now to ground, as the whole network does, and takes ties away that
    /// have become a path to ground. To be called once all other changes are laid. No current can
    /// flow in the only tie of an island, so any conductance will do.
    pub fn tie(&self, changes: &mut Changes) {
        changes.ties.clear();
        changes.floating.clear();
        let opens = |active: &Active| active.element.is_some() && active.law.is_none();
        if self.ties.is_empty() && changes.new_nets.is_empty() && !changes.list.iter().any(opens) {
            return;
        }
        let n_own = self.elements.len() - self.ties.len();
        let mut replaced = vec![false; n_own];
        for active in &changes.list {
            if let Some(element) = active.element {
                replaced[element] = true;
            }
        }
        let stay = (0..n_own)
            .filter(|&element| !replaced[element])
            .map(|element| (self.elements[element].from, self.elements[element].to));
        let there = changes.list.iter().filter(|active| active.law.is_some());
        let n = self.n_nets + changes.new_nets.len();
        let mut islands = join_all(n, stay.chain(there.map(|active| (active.from, active.to))));
        changes.floating = (0..n).map(|net| islands.root(net) != 0).collect();
        for &(net, tie) in &self.ties {
            if islands.root(net) != net {
                changes.ties.push(self.instead(tie, None));
            }
        }
        for net in (1..n).filter(|&net| islands.root(net) == net) {
            if !self.ties.iter().any(|(known, _)| *known == net) {
                changes.ties.push(Reduced::between(net, 0, Law::conductance(1.0)));
            }
        }
        if !changes.floating.contains(&true) {
            changes.floating.clear();
        }
    }

    /// The branches of a part, as they stand with these changes.
    pub fn branches_of<'a>(
        &'a self,
        changes: &'a Changes,
        own: &'a [usize],
        part: PartId,
    ) -> impl Iterator<Item = Standing<'a>> + 'a {
        let kept = own.iter().filter(|element| changes.at(**element).is_none()).map(|&element| {
            let base = &self.elements[element];
            Standing {
                element: Some(element),
                ends: (base.from, base.to),
                law: &base.law,
                senses: &base.senses,
                origin: base.origin,
            }
        });
        let added = changes.list.iter().filter_map(move |active| {
            let origin = active.origin.filter(|origin| origin.part == part)?;
            Some(Standing {
                element: active.element,
                ends: (active.from, active.to),
                law: active.law.as_ref()?,
                senses: &active.senses,
                origin: Some(origin),
            })
        });
        kept.chain(added)
    }
}

/// A branch as it stands on a board with changes.
#[derive(Debug, Clone, Copy)]
pub struct Standing<'a> {
    /// The branch of the board that it is, or replaces.
    pub element: Option<usize>,
    /// The nets that its current leaves and enters.
    pub ends: (usize, usize),
    /// Its law.
    pub law: &'a Law,
    /// The pairs of nets that drive it.
    pub senses: &'a [(usize, usize)],
    /// The part that it belongs to, and how.
    pub origin: Option<Origin>,
}
