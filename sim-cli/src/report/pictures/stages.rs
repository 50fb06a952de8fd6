//! Fills the stage bars from the events of the run, drive by drive.

use super::super::Told;
use super::view::heading;
use crate::chart::figures::stages::{DriveBar, StageData};
use crate::chart::figures::timeline::{Span, StageState};
use crate::clock::{duration, weekday_and_time};
use crate::problems::count;
use sim_core::Instant;
use sim_core::explain::is_restart;
use sim_core::logic::Stage;
use sim_core::record::{Cause, Event, EventKind, Line};

/// Most changes of stage that are written out for one drive.
const MOST_CHANGES: usize = 5;

/// Everything the picture shows.
pub fn fill(told: &Told) -> StageData {
    let mut drives: Vec<DriveBar> = Vec::new();
    let mut open: Option<Drive> = None;
    for event in &told.run.events {
        if event.kind == EventKind::KeyOn {
            match &mut open {
                Some(drive) if is_restart(drive.stopped, event.t) => drive.start_again(),
                _ => {
                    drives.extend(open.take().map(|d| d.close(told, event.t, drives.len())));
                    open = Some(Drive::new(event.t, open_on(told, event.t)));
                }
            }
        }
        if let Some(drive) = &mut open {
            drive.see(told, event);
        }
    }
    drives.extend(open.take().map(|d| d.close(told, told.run.span.1, drives.len())));
    let heading = heading(told, "Charge stages of each drive", answer(told, &drives));
    StageData { heading, drives }
}

/// What the unit did when the key was turned: it can still be on from a run-on.
fn open_on(told: &Told, t: Instant) -> StageState {
    let before = told.run.trace.at(told.model, told.profile, t.plus_ns(-1));
    before.filter(|s| s.mode.on).map_or(StageState::Waiting, |s| state(s.mode.stage))
}

fn state(stage: Stage) -> StageState {
    match stage {
        Stage::Bulk => StageState::Bulk,
        Stage::Absorption => StageState::Absorption,
        Stage::Float => StageState::Float,
    }
}

fn name(state: StageState) -> &'static str {
    match state {
        StageState::Waiting => "waiting",
        StageState::Bulk => "bulk",
        StageState::Absorption => "absorption",
        StageState::Float => "float",
    }
}

struct Drive {
    from: Instant,
    /// Since when the engine stands still, to its end or at a short stop.
    stopped: Option<Instant>,
    stops: usize,
    since: Instant,
    now: StageState,
    spans: Vec<Span<StageState>>,
    changes: Vec<(f64, String)>,
    drop_outs: u32,
    at_stop: StageState,
    came_on: bool,
    ran_on: Option<Instant>,
}

impl Drive {
    fn new(from: Instant, now: StageState) -> Self {
        Drive {
            from,
            stopped: None,
            stops: 0,
            since: from,
            now,
            spans: Vec::new(),
            changes: Vec::new(),
            drop_outs: 0,
            at_stop: now,
            came_on: now != StageState::Waiting,
            ran_on: None,
        }
    }

    /// The engine runs again after a short stop.
    fn start_again(&mut self) {
        (self.stopped, self.ran_on) = (None, None);
        self.stops += 1;
    }

    fn see(&mut self, told: &Told, event: &Event) {
        let driving = self.stopped.is_none();
        let next = match event.kind {
            EventKind::UnitOn => {
                self.came_on = true;
                // A unit that resumes goes on with the stage that it left.
                let after = told.run.trace.at(told.model, told.profile, event.t);
                after.filter(|s| s.mode.on).map_or(StageState::Bulk, |s| state(s.mode.stage))
            }
            EventKind::UnitOff => {
                if driving {
                    self.drop_outs += 1;
                } else {
                    self.ran_on = Some(event.t);
                }
                StageState::Waiting
            }
            EventKind::Stage { to } => {
                if driving {
                    let words = format!("{} ends: {}", name(self.now), why(event.cause));
                    self.changes.push((event.t.since(self.from), words));
                }
                state(to)
            }
            EventKind::KeyOff => {
                self.stopped = Some(event.t);
                self.at_stop = self.now;
                return;
            }
            _ => return,
        };
        self.turn(event.t, next);
    }

    fn turn(&mut self, t: Instant, next: StageState) {
        if t > self.since {
            let (start_s, end_s) = (self.since.since(self.from), t.since(self.from));
            self.spans.push(Span { start_s, end_s, state: self.now });
        }
        (self.since, self.now) = (t, next);
    }

    /// Ends the bar: at the last switching after key-off, or at the end of the time that belongs to it.
    fn close(mut self, told: &Told, end: Instant, index: usize) -> DriveBar {
        let still_on = self.now != StageState::Waiting;
        let last = if still_on { end } else { self.stopped.unwrap_or(end).max(self.since) };
        self.turn(last, StageState::Waiting);
        let words = self.words(still_on, end);
        let within = told.run.stretches.iter().filter(|s| s.driving && (self.from..end).contains(&s.from));
        let output_ah = within.map(|s| s.ledger.ah(Line::OutputC)).sum();
        let clock_at = |t: Instant| weekday_and_time(told.profile, t.as_s());
        // Days and seconds would not fit the column; the minute does.
        let short = |t: Instant| clock_at(t).trim_end_matches(|c| c != ':').trim_end_matches(':').to_owned();
        DriveBar {
            name: format!("{}. {}", index + 1, short(self.from)),
            key_off_s: self.stopped.map(|t| t.since(self.from)),
            changes: self.few_changes(),
            stages: self.spans,
            ended: words,
            output_ah,
        }
    }

    /// A unit that cycles in absorption says the same thing many times: the first few say it.
    fn few_changes(&mut self) -> Vec<(f64, String)> {
        let mut changes = std::mem::take(&mut self.changes);
        if changes.len() > MOST_CHANGES {
            let more = changes.len() - MOST_CHANGES + 1;
            changes.truncate(MOST_CHANGES);
            if let Some(last) = changes.last_mut() {
                last.1 = format!("{more} more changes of stage from here");
            }
        }
        changes
    }

    fn words(&self, still_on: bool, end: Instant) -> String {
        let mut words = Vec::new();
        if self.stops > 0 {
            words.push(count(self.stops, "short stop"));
        }
        match self.drop_outs {
            0 => {}
            1 => words.push("dropped out once".to_owned()),
            n => words.push(format!("dropped out {n} times")),
        }
        match (self.came_on, self.stopped) {
            (false, _) => words.push("never came on".to_owned()),
            (true, None) => words.push(format!("the run ends in {}", name(self.now_at_end(still_on)))),
            (true, Some(off)) => {
                let stage = name(self.at_stop);
                words.push(match (self.at_stop, self.ran_on, still_on) {
                    (StageState::Waiting, None, false) => "off at key-off".to_owned(),
                    (_, Some(ran), false) => {
                        format!("key-off in {stage}, off {} later", duration(ran.since(off)))
                    }
                    (_, _, true) => {
                        format!("key-off in {stage}, still on {} later", duration(end.since(off)))
                    }
                    (_, None, false) => format!("key-off in {stage}"),
                });
            }
        }
        words.join("; ")
    }

    fn now_at_end(&self, still_on: bool) -> StageState {
        if still_on { self.spans.last().map_or(self.now, |s| s.state) } else { StageState::Waiting }
    }
}

fn why(cause: Cause) -> String {
    match cause {
        Cause::TargetReached { output_v, .. } => format!("{output_v:.2} V reached"),
        Cause::TailCurrent { tail_a, .. } => format!("under {tail_a:.1} A"),
        Cause::AbsorptionCap { cap_s } => format!("cap of {}", duration(cap_s)),
        Cause::OutputLow { threshold_v, .. } => format!("output under {threshold_v:.2} V"),
        _ => "as the rules say".to_owned(),
    }
}

fn answer(told: &Told, drives: &[DriveBar]) -> String {
    if drives.is_empty() {
        return "The engine never runs, so no charge begins.".to_owned();
    }
    let with = |state| drives.iter().filter(|d| d.stages.iter().any(|s| s.state == state)).count();
    let (charged, absorbed, finished) =
        (with(StageState::Bulk), with(StageState::Absorption), with(StageState::Float));
    let capped =
        |e: &Event| matches!((e.kind, e.cause), (EventKind::Stage { .. }, Cause::AbsorptionCap { .. }));
    let by_time = told.run.events.iter().any(capped);
    let reach = if drives.len() == 1 {
        match (charged + absorbed + finished, absorbed, finished) {
            (0, _, _) => "The unit never comes on in this drive",
            (_, 0, 0) => "This drive never reaches absorption: the charge ends in bulk",
            (_, _, 0) => "This drive reaches absorption and does not finish it",
            _ if by_time => "Absorption ends by its time limit in this drive; then the unit floats",
            _ => "This drive finishes its charge and floats",
        }
        .to_owned()
    } else {
        format!(
            "Of {} drives {charged} charge, {absorbed} reach absorption and {finished} reach float",
            drives.len()
        )
    };
    format!("{reach}. {:.1} Ah out of the unit in all.", told.summary.unit_output_ah)
}
