//! A spanning tree of the strongest branches, and the voltages along it as unknowns.
//!
//! Nodal equations add the conductances at a net, and a sum of 50 S and 1e-13 S forgets the second
//! one: two nets that a link joins, and that only blocked junctions tie to the rest, then have no
//! voltage at all. Equations of cut sets do not forget. With the voltages of the branches of a tree
//! as unknowns, b = T⁻¹v, the equation of a branch adds the currents of all branches between the
//! two parts that the tree falls into without it. When the tree is made of the strongest branches
//! (J. B. Kruskal, "On the shortest spanning subtree of a graph", Proc. Amer. Math. Soc. 7, 1956),
//! none of them is much stronger than the tree's own, so that little is lost whatever the range of
//! resistances. (Cut-set analysis: N. Balabanian and T. A. Bickart, "Electrical Network Theory",
//! 1969; from memory.)

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::structure::Islands;

/// Decades of strength that count as equally strong.
const CLASS_DECADES: f64 = 4.0;

/// How much stronger than the branches of the tree on its way another branch may be before the
/// tree is grown anew: the width of a class.
pub(super) const SLACK: f64 = 1e4;

/// A spanning tree that is rooted at ground. The branch of a net is the one towards ground.
#[derive(Debug, Clone)]
pub(super) struct Tree {
    /// Per net: the next one towards ground.
    parent: Vec<usize>,
    /// Per net: the edge that leads there, as its number in the list; `None` where there is none.
    edge: Vec<Option<usize>>,
    /// Per net: branches to ground.
    depth: Vec<usize>,
    /// Nets other than ground, each after its parent.
    order: Vec<usize>,
    /// Whether nets hang on their parents by branches, not only by belonging together.
    spans: bool,
    /// Whether every net hangs on ground.
    is_flat: bool,
}

impl Tree {
    /// The tree of the strongest of `edges`, each two nets and a strength.
    pub(super) fn strongest(n_nets: usize, edges: &[(usize, usize, f64)]) -> Tree {
        let mut ranked: Vec<usize> = (0..edges.len()).collect();
        // Within a class, branches to ground come first: they keep paths short, and digits are lost
        // by no more than the width of the class. Equals keep the order of the list, so the tree is
        // the same in every run.
        let classes: Vec<f64> = edges
            .iter()
            .map(|(_, _, strength)| (strength.log10() / CLASS_DECADES).floor())
            .collect();
        ranked.sort_by(|&first, &second| {
            let (a, b) = (edges[first], edges[second]);
            let inland = |(from, to, _): (usize, usize, f64)| from != 0 && to != 0;
            let by_class = classes[second].total_cmp(&classes[first]);
            by_class.then(inland(a).cmp(&inland(b))).then(b.2.total_cmp(&a.2))
        });
        let mut islands = Islands::new(n_nets);
        let mut near: Vec<Vec<(usize, usize)>> = vec![Vec::new(); n_nets];
        for idx in ranked {
            let (from, to, _) = edges[idx];
            if islands.join(from, to) {
                near[from].push((to, idx));
                near[to].push((from, idx));
            }
        }
        let mut tree = Tree {
            parent: vec![0; n_nets],
            edge: vec![None; n_nets],
            depth: vec![0; n_nets],
            order: Vec::with_capacity(n_nets),
            spans: true,
            is_flat: false,
        };
        let mut seen = vec![false; n_nets];
        // Nets that no edge reaches hang on ground, one by one.
        for start in 0..n_nets {
            if seen[start] {
                continue;
            }
            seen[start] = true;
            if start != 0 {
                tree.depth[start] = 1;
                tree.order.push(start);
            }
            let mut open = VecDeque::from([start]);
            while let Some(net) = open.pop_front() {
                for &(next, idx) in &near[net] {
                    if !seen[next] {
                        seen[next] = true;
                        tree.edge[next] = Some(idx);
                        tree.parent[next] = net;
                        tree.depth[next] = tree.depth[net] + 1;
                        tree.order.push(next);
                        open.push_back(next);
                    }
                }
            }
        }
        tree
    }

    /// The tree of what belongs together: for networks of many nets, where the cut sets of a
    /// spanning tree would be crossed by nearly everything.
    ///
    /// Branches of one class of strength make clusters of the clusters that stronger ones made. All
    /// of a cluster hang on one net of it, which alone stands for what the cluster does as a whole:
    /// its equation is that of the cut around the cluster, where the strong branches inside leave no
    /// rounding. Every other equation is that of a net. So a tree is as deep as there are classes,
    /// and where all branches are of one class the equations are those of nets.
    ///
    /// `usual` is the strength in the middle of a class.
    pub(super) fn of_clusters(n_nets: usize, edges: &[(usize, usize, f64)], usual: f64) -> Tree {
        let class = |strength: f64| ((strength / usual).log10() / CLASS_DECADES + 0.5).floor();
        let mut ranked: Vec<(f64, usize)> = edges
            .iter()
            .enumerate()
            .filter(|(_, (from, to, _))| from != to)
            .map(|(idx, (_, _, strength))| (class(*strength), idx))
            .collect();
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut islands = Islands::new(n_nets);
        let mut parent = vec![0; n_nets];
        let mut edge = vec![None; n_nets];
        let mut later: Vec<usize> = Vec::new();
        for class in ranked.chunk_by(|a, b| a.0 == b.0) {
            // The net of a cluster that was there before, with the branch that made it a part of
            // another one.
            let mut merged: Vec<(usize, usize)> = Vec::new();
            for &(_, idx) in class {
                let (from, to, _) = edges[idx];
                let roots = [islands.root(from), islands.root(to)];
                if islands.join(from, to) {
                    merged.push((roots[0].max(roots[1]), idx));
                }
            }
            if class[0].0 == f64::INFINITY {
                // Given voltages are those along branches.
                hang(&mut merged, edges, (&mut parent, &mut edge));
            } else {
                // The lowest net of a cluster stands for it.
                for &(net, idx) in &merged {
                    parent[net] = islands.root(net);
                    edge[net] = Some(idx);
                }
            }
            later.extend(merged.into_iter().map(|(net, _)| net));
        }
        let is_flat = parent.iter().all(|net| *net == 0);
        let (depth, order) = (vec![0; n_nets], Vec::new());
        let mut tree = Tree { parent, edge, depth, order, spans: false, is_flat };
        // What was merged later stands nearer to ground; nets that no edge reaches hang on it.
        let alone = (1..n_nets).filter(|&net| islands.root(net) == net);
        tree.order = alone.chain(later.into_iter().rev()).collect();
        for &net in &tree.order {
            tree.depth[net] = tree.depth[tree.parent[net]] + 1;
        }
        tree
    }

    /// Whether nets hang on their parents by branches, so that volts along the tree are volts of
    /// branches.
    pub(super) fn spans(&self) -> bool {
        self.spans
    }

    /// The net that a net hangs on.
    pub(super) fn parent(&self, net: usize) -> usize {
        self.parent[net]
    }

    /// The branches on the way between two nets, as net − 1, with the sign in which their voltages
    /// add up to the voltage from the first to the second.
    pub(super) fn path(&self, from: usize, to: usize) -> Vec<(usize, f64)> {
        let mut way = Vec::new();
        self.walk(from, to, |cut, sign| way.push((cut, sign)));
        way
    }

    /// The largest size of the volts along the way between two nets.
    pub(super) fn largest(&self, from: usize, to: usize, along: &[f64]) -> f64 {
        let mut largest = 0.0_f64;
        self.walk(from, to, |cut, _| largest = largest.max(along[cut].abs()));
        largest
    }

    fn walk(&self, from: usize, to: usize, mut visit: impl FnMut(usize, f64)) {
        let (mut a, mut b) = (from, to);
        while a != b {
            if self.depth[a] >= self.depth[b] {
                visit(a - 1, 1.0);
                a = self.parent[a];
            } else {
                visit(b - 1, -1.0);
                b = self.parent[b];
            }
        }
    }

    /// The edge that leads from a net towards ground, as its number in the list of edges; in a tree
    /// of clusters the one by which the net's cluster came to belong to its parent's.
    pub(super) fn edge(&self, net: usize) -> Option<usize> {
        self.edge[net]
    }

    /// v = T b, in place: from voltages along branches to voltages of nets, ground left out.
    pub(super) fn spread(&self, b: &mut [f64]) {
        if self.is_flat {
            return;
        }
        for &net in &self.order {
            let parent = self.parent[net];
            if parent != 0 {
                b[net - 1] += b[parent - 1];
            }
        }
    }

    /// Tᵀ r, in place: from sums at nets to sums over everything that hangs on a branch.
    pub(super) fn gather(&self, r: &mut [f64]) {
        if self.is_flat {
            return;
        }
        for &net in self.order.iter().rev() {
            let parent = self.parent[net];
            if parent != 0 {
                r[parent - 1] += r[net - 1];
            }
        }
    }
}

/// Hangs nets on their neighbours along branches that make clusters of single nets: each on the one
/// that is nearer to the lowest net. The list then has every net before those that it hangs on.
fn hang(
    merged: &mut Vec<(usize, usize)>,
    edges: &[(usize, usize, f64)],
    (parent, edge): (&mut [usize], &mut [Option<usize>]),
) {
    let mut near: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for &(_, idx) in merged.iter() {
        let (from, to, _) = edges[idx];
        near.entry(from).or_default().push((to, idx));
        near.entry(to).or_default().push((from, idx));
    }
    merged.clear();
    let mut seen = BTreeSet::new();
    for &start in near.keys() {
        if !seen.insert(start) {
            continue;
        }
        let mut open = VecDeque::from([start]);
        while let Some(net) = open.pop_front() {
            for &(next, idx) in &near[&net] {
                if seen.insert(next) {
                    (parent[next], edge[next]) = (net, Some(idx));
                    merged.push((next, idx));
                    open.push_back(next);
                }
            }
        }
    }
    merged.reverse();
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ground–1–3 and ground–2 are the strong branches; 2–3 is the weak one.
    fn tree() -> Tree {
        Tree::strongest(4, &[(2, 3, 1e-9), (0, 1, 1.0), (3, 1, 2.0), (2, 0, 3.0)])
    }

    #[test]
    fn a_path_goes_over_the_strong_branches() {
        let mut way = tree().path(2, 3);
        way.sort_by_key(|(branch, _)| *branch);
        assert_eq!(way, [(0, -1.0), (1, 1.0), (2, -1.0)]);
        assert_eq!(tree().path(3, 3), []);
    }

    #[test]
    fn gathering_is_the_transpose_of_spreading() {
        let tree = tree();
        let (b, r) = ([1.0, 20.0, 300.0], [5.0, 7.0, 11.0]);
        let (mut v, mut t) = (b, r);
        tree.spread(&mut v);
        tree.gather(&mut t);
        assert_eq!(v, [1.0, 20.0, 301.0]);
        let dot = |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        assert_eq!(dot(v, r), dot(b, t));
    }

    /// Two stiff clusters, one of them at ground by way of a source, on a weak link, and a net alone.
    fn clusters() -> (Tree, Vec<(usize, usize, f64)>) {
        let edges = vec![
            (1, 0, f64::INFINITY),
            (2, 1, f64::INFINITY),
            (2, 3, 1e3),
            (4, 5, 1e3),
            (5, 6, 2e3),
            (3, 5, 1e-7),
            (6, 0, 1e-7),
        ];
        (Tree::of_clusters(8, &edges, 1e3), edges)
    }

    #[test]
    fn a_cluster_hangs_on_its_lowest_net_and_given_voltages_on_their_branches() {
        let (tree, _) = clusters();
        let parents: Vec<usize> = (1..8).map(|net| tree.parent(net)).collect();
        assert_eq!(parents, [0, 1, 0, 0, 4, 4, 0]);
        assert!(!tree.spans());
        // Inside a cluster the net that stands for it is not crossed.
        assert_eq!(tree.path(5, 6), [(4, 1.0), (5, -1.0)]);
        assert_eq!(tree.path(2, 1), [(1, 1.0)]);
    }

    #[test]
    fn ways_through_clusters_add_up_to_the_volts_between_their_ends() {
        let (tree, edges) = clusters();
        let along: Vec<f64> = (0..7).map(|net| f64::from(3 * net * net + 1)).collect();
        let mut volts = along.clone();
        tree.spread(&mut volts);
        let at = |net: usize| if net == 0 { 0.0 } else { volts[net - 1] };
        for (from, to, _) in edges {
            let way = tree.path(from, to);
            let sum: f64 = way.iter().map(|&(cut, sign)| sign * along[cut]).sum();
            assert_eq!(sum, at(from) - at(to), "{from} to {to}");
        }
    }
}
