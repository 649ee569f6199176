//! The last answer to a question, kept until another is asked.

use std::sync::{Arc, Mutex, PoisonError};

/// One answer with the question it belongs to.
pub struct Memo<K, V>(Mutex<Option<(K, Arc<V>)>>);

impl<K, V> Default for Memo<K, V> {
    fn default() -> Self {
        Self(Mutex::new(None))
    }
}

impl<K: PartialEq, V> Memo<K, V> {
    /// The answer to `key`: the one held, or worked out now. Who asks meanwhile waits for it.
    pub fn get(&self, key: K, work: impl FnOnce() -> V) -> Arc<V> {
        let mut held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((known, answer)) = &*held
            && *known == key
        {
            return Arc::clone(answer);
        }
        let answer = Arc::new(work());
        *held = Some((key, Arc::clone(&answer)));
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::Memo;

    #[test]
    fn worked_out_once_for_each_question() {
        let memo = Memo::default();
        assert_eq!(*memo.get(1, || "one"), "one");
        assert_eq!(*memo.get(1, || "again"), "one");
        assert_eq!(*memo.get(2, || "two"), "two");
        assert_eq!(*memo.get(1, || "anew"), "anew", "only the last is kept");
    }
}
