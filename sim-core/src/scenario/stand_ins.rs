//! Keys that say one thing in several ways, of which a file says one: how thick a cable is.
//!
//! Two ways in one file are told as a mistake, since one of them would be ignored. What is laid over a file (a file that
//! builds on it, a word of the command line, a value of a study) replaces the way that stands below.

use super::list_path::{NoEntry, parts};
use super::node::{Node, Place, Value};

/// Sections with such keys.
const SECTIONS: [&str; 2] = ["input_cable", "output_cable"];
/// The ways to say how thick a conductor is.
const SIZES: [&str; 3] = ["area_mm2", "awg", "sae"];

impl Node {
    /// Puts a value under a path, and takes away what it stands in for.
    ///
    /// # Errors
    /// As [`Node::at_path_mut`].
    pub fn put(&mut self, path: &str, place: Place, node: Node) -> Result<(), NoEntry> {
        let keys = parts(path);
        *self.at_path_mut(&keys, place)? = node;
        if let [section, key] = keys[..]
            && SECTIONS.contains(&section)
        {
            self.displace(section, &[key]);
        }
        Ok(())
    }

    /// This tree without what `over`, which will be laid over it, says in another way.
    pub(super) fn making_room_for(mut self, over: &Node) -> Node {
        for section in SECTIONS {
            let entries = over.entries().unwrap_or_default();
            let said = entries.iter().find(|e| e.key == section).and_then(|e| e.node.entries());
            let keys: Vec<&str> = said.unwrap_or_default().iter().map(|e| e.key.as_str()).collect();
            self.displace(section, &keys);
        }
        self
    }

    fn displace(&mut self, section: &str, said: &[&str]) {
        if said.iter().any(|key| SIZES.contains(key))
            && let Value::Table(entries) = &mut self.value
            && let Some(found) = entries.iter_mut().find(|e| e.key == section)
            && let Value::Table(keys) = &mut found.node.value
        {
            keys.retain(|e| said.contains(&e.key.as_str()) || !SIZES.contains(&e.key.as_str()));
        }
    }
}
