//! The Merkle tree over the entries (RFC 9162 §2.1): roots of every size, proofs that an entry
//! is in a root, and that a later root continues an earlier one.

use record::digest::Digest;

/// Hash of a leaf: SHA-256(0x00 ‖ entry).
#[must_use]
pub fn leaf_hash(entry: &[u8]) -> Digest {
    Digest::of(&[&[0u8], entry].concat())
}

fn node(left: &Digest, right: &Digest) -> Digest {
    Digest::of(&[&[1u8][..], &left.0, &right.0].concat())
}

/// Merkle tree hash of the entries' hashes after RFC 9162 §2.1.1; the root of nothing is SHA-256
/// of nothing.
#[must_use]
pub fn merkle_root<T: AsRef<[u8]>>(entries: &[T]) -> Digest {
    Tree::over(entries).root()
}

/// All full subtrees over the leaves, so that any root or proof costs a few hashes.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tree {
    /// `levels[k][i]`: the subtree over leaves i·2^k to (i+1)·2^k.
    levels: Vec<Vec<Digest>>,
}

impl Tree {
    /// Over entries in order.
    #[must_use]
    pub fn over<T: AsRef<[u8]>>(entries: &[T]) -> Self {
        let mut levels = Vec::new();
        let mut level: Vec<Digest> = entries.iter().map(|e| leaf_hash(e.as_ref())).collect();
        while !level.is_empty() {
            let above = level
                .chunks_exact(2)
                .filter_map(|pair| match pair {
                    [left, right] => Some(node(left, right)),
                    _ => None,
                })
                .collect();
            levels.push(std::mem::replace(&mut level, above));
        }
        Self { levels }
    }

    /// How many leaves.
    #[must_use]
    pub fn size(&self) -> usize {
        self.levels.first().map_or(0, Vec::len)
    }

    /// The root over all leaves; of none: SHA-256 of nothing.
    #[must_use]
    pub fn root(&self) -> Digest {
        self.range(0, self.size())
    }

    /// The root it had at a size; `None` for a size beyond it.
    #[must_use]
    pub fn root_at(&self, size: usize) -> Option<Digest> {
        (size <= self.size()).then(|| self.range(0, size))
    }

    /// Hash over leaves `from` to `to`; both lie inside.
    fn range(&self, from: usize, to: usize) -> Digest {
        let n = to.saturating_sub(from);
        if n == 0 {
            return Digest::of(b"");
        }
        if n.is_power_of_two() && from.is_multiple_of(n) {
            let level = self.levels.get(n.trailing_zeros() as usize);
            if let Some(hash) = level.and_then(|l| l.get(from / n)) {
                return *hash;
            }
        }
        let middle = from + split(n);
        node(&self.range(from, middle), &self.range(middle, to))
    }

    /// PATH(m, D\[n\]) of RFC 9162 §2.1.3.1: the proof that leaf `index` (from 0) is in the root
    /// at `size`; `None` when there is no such leaf.
    #[must_use]
    pub fn inclusion(&self, index: usize, size: usize) -> Option<Vec<Digest>> {
        if index >= size || size > self.size() {
            return None;
        }
        let (mut from, mut to) = (0, size);
        let mut path = Vec::new();
        while to - from > 1 {
            let middle = from + split(to - from);
            if index < middle {
                path.push(self.range(middle, to));
                to = middle;
            } else {
                path.push(self.range(from, middle));
                from = middle;
            }
        }
        path.reverse();
        Some(path)
    }

    /// PROOF(m, D\[n\]) of RFC 9162 §2.1.4.1: the proof that the root at `size` continues the
    /// root at `old`; `None` unless 0 < old ≤ size.
    #[must_use]
    pub fn consistency(&self, old: usize, size: usize) -> Option<Vec<Digest>> {
        if old == 0 || old > size || size > self.size() {
            return None;
        }
        let (mut from, mut to) = (0, size);
        let mut path = Vec::new();
        while to != old {
            let middle = from + split(to - from);
            if old <= middle {
                path.push(self.range(middle, to));
                to = middle;
            } else {
                path.push(self.range(from, middle));
                from = middle;
            }
        }
        if from > 0 {
            path.push(self.range(from, to));
        }
        path.reverse();
        Some(path)
    }
}

/// The largest power of two below `n`; 1 for n of 2 or less.
fn split(n: usize) -> usize {
    n.saturating_sub(1).checked_ilog2().map_or(1, |p| 1 << p)
}

/// RFC 9162 §2.1.3.2: true when the proof leads from leaf `index` (from 0) to the root at `size`.
#[must_use]
pub fn is_included(leaf: &Digest, index: u64, size: u64, proof: &[Digest], root: &Digest) -> bool {
    if index >= size {
        return false;
    }
    let (mut at, mut last) = (index, size - 1);
    let mut hash = *leaf;
    for p in proof {
        if last == 0 {
            return false;
        }
        if at % 2 == 1 || at == last {
            hash = node(p, &hash);
            while at % 2 == 0 && at != 0 {
                at >>= 1;
                last >>= 1;
            }
        } else {
            hash = node(&hash, p);
        }
        at >>= 1;
        last >>= 1;
    }
    last == 0 && hash == *root
}

/// RFC 9162 §2.1.4.2: true when the proof shows that `root` at `size` continues `old_root` at
/// `old`.
#[must_use]
pub fn is_continued(
    old: u64,
    old_root: &Digest,
    size: u64,
    root: &Digest,
    proof: &[Digest],
) -> bool {
    if old == size {
        return proof.is_empty() && old_root == root;
    }
    if old == 0 || old > size {
        return false;
    }
    let own = if old.is_power_of_two() { Some(*old_root) } else { None };
    let mut steps = own.iter().chain(proof.iter());
    let Some(first) = steps.next() else { return false };
    let (mut at, mut last) = (old - 1, size - 1);
    while at % 2 == 1 {
        at >>= 1;
        last >>= 1;
    }
    let (mut was, mut is) = (*first, *first);
    for p in steps {
        if last == 0 {
            return false;
        }
        if at % 2 == 1 || at == last {
            was = node(p, &was);
            is = node(p, &is);
            while at % 2 == 0 && at != 0 {
                at >>= 1;
                last >>= 1;
            }
        } else {
            is = node(&is, p);
        }
        at >>= 1;
        last >>= 1;
    }
    was == *old_root && is == *root && last == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEAVES: [&[u8]; 8] = [
        b"",
        b"\x00",
        b"\x10",
        b"\x20\x21",
        b"\x30\x31",
        b"\x40\x41\x42\x43",
        b"\x50\x51\x52\x53\x54\x55\x56\x57",
        b"\x60\x61\x62\x63\x64\x65\x66\x67\x68\x69\x6a\x6b\x6c\x6d\x6e\x6f",
    ];

    /// MTH of RFC 9162 §2.1.1 word for word, against which the kept subtrees are held.
    fn by_definition(entries: &[[u8; 2]]) -> Digest {
        match entries {
            [] => Digest::of(b""),
            [one] => leaf_hash(one),
            many => {
                let (left, right) = many.split_at(split(many.len()));
                node(&by_definition(left), &by_definition(right))
            }
        }
    }

    fn d(hex: &str) -> Digest {
        Digest::from_hex(hex).unwrap()
    }

    /// The usual eight leaves of Certificate Transparency's reference vectors (RFC 6962/9162);
    /// roots as printed in reference/interchange.md §6.1.
    #[test]
    fn rfc_9162_vectors() {
        let root = |n: usize| merkle_root(&LEAVES[..n]).to_string();
        assert!(root(0).starts_with("e3b0c442") && root(0).ends_with("b855"));
        assert!(root(1).starts_with("6e340b9c") && root(1).ends_with("a01d"));
        assert!(root(2).starts_with("fac54203") && root(2).ends_with("c125"));
        assert!(root(3).starts_with("aeb6bcfe") && root(3).ends_with("6e77"));
        assert!(root(7).starts_with("ddb89be4") && root(7).ends_with("4c8c"));
        assert_eq!(root(8), "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328");
    }

    /// Reference proofs of Certificate Transparency's Merkle tree tests over the usual eight
    /// leaves, as public implementations of RFC 6962 carry them.
    #[test]
    fn published_proofs() {
        let tree = Tree::over(&LEAVES);
        let (l1, l5, l6) = (
            d("96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7"),
            d("bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"),
            d("b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f"),
        );
        let (n23, n45, n67) = (
            d("5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e"),
            d("0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a"),
            d("ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"),
        );
        let (n03, n47) = (
            d("d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"),
            d("6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"),
        );
        let n01 = d("fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125");
        let l0 = d("6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d");
        assert_eq!(tree.inclusion(0, 1), Some(vec![]));
        assert_eq!(tree.inclusion(0, 8), Some(vec![l1, n23, n47]));
        assert_eq!(tree.inclusion(5, 8), Some(vec![l5, n67, n03]));
        assert_eq!(tree.inclusion(2, 3), Some(vec![n01]));
        assert_eq!(tree.inclusion(1, 5), Some(vec![l0, n23, l5]));
        assert_eq!(tree.consistency(1, 1), Some(vec![]));
        assert_eq!(tree.consistency(1, 8), Some(vec![l1, n23, n47]));
        assert_eq!(tree.consistency(6, 8), Some(vec![n45, n67, n03]));
        assert_eq!(tree.consistency(2, 5), Some(vec![n23, l5]));
        assert_eq!(tree.consistency(6, 7), Some(vec![n45, l6, n03]));
        assert_eq!((tree.inclusion(8, 8), tree.consistency(0, 8)), (None, None));
    }

    #[test]
    fn every_proof_of_small_trees_holds_and_no_other() {
        let entries: Vec<[u8; 2]> = (0..40u16).map(u16::to_be_bytes).collect();
        let tree = Tree::over(&entries);
        for size in 1..=entries.len() {
            let root = tree.root_at(size).unwrap();
            assert_eq!(root, by_definition(&entries[..size]));
            assert_eq!(root, merkle_root(&entries[..size]));
            for (index, entry) in entries.iter().enumerate().take(size) {
                let leaf = leaf_hash(entry);
                let proof = tree.inclusion(index, size).unwrap();
                let (i, n) = (index as u64, size as u64);
                assert!(is_included(&leaf, i, n, &proof, &root));
                assert!(!is_included(&leaf, i + 1, n, &proof, &root));
                assert!(!is_included(&leaf_hash(b"x"), i, n, &proof, &root));
                let longer = [proof.clone(), vec![root]].concat();
                assert!(!is_included(&leaf, i, n, &longer, &root));
                let old = tree.root_at(index + 1).unwrap();
                let proof = tree.consistency(index + 1, size).unwrap();
                assert!(is_continued(i + 1, &old, n, &root, &proof), "{index} {size}");
                assert!(!is_continued(i + 1, &leaf, n, &root, &proof) || old == leaf);
                assert!(!is_continued(i + 1, &old, n, &leaf_hash(b"x"), &proof));
            }
        }
    }
}
