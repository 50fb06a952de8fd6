//! Makes a failing scenario small: sections, keys and rows of logs are dropped while the failure stands.

use super::text::Text;

/// A smaller text that still fails; at most so many are tried.
pub fn shrunk(text: &Text, fails: impl Fn(&Text) -> bool) -> Text {
    let mut small = text.clone();
    let mut left = 400;
    let mut attempt = |candidate: Text, small: &mut Text| {
        if left == 0 {
            return false;
        }
        left -= 1;
        candidate.write_logs();
        let stands = fails(&candidate);
        if stands {
            *small = candidate;
        }
        stands
    };
    loop {
        let before = small.clone();
        for n in (0..small.sections.len()).rev() {
            let mut candidate = small.clone();
            candidate.sections.remove(n);
            attempt(candidate, &mut small);
        }
        for n in 0..small.sections.len() {
            for k in (0..small.sections[n].keys.len()).rev() {
                let mut candidate = small.clone();
                candidate.sections[n].keys.remove(k);
                attempt(candidate, &mut small);
            }
        }
        for n in 0..small.logs.len() {
            while let Some(log) = small.logs[n].shorter() {
                let mut candidate = small.clone();
                candidate.logs[n] = log;
                if !attempt(candidate, &mut small) {
                    break;
                }
            }
        }
        if small == before {
            small.write_logs();
            return small;
        }
    }
}
