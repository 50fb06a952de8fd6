//! One run: settle the rules, step to the next known time or the first flipped guard, settle again.

use super::again::Mark;
use super::ahead;
use super::extremes::{Extremes, Met};
use super::finite;
use super::fuses::{self, Fuses};
use super::gate::{self, Reached, StepGate};
use super::guards::{Guard, Values, evaluate};
use super::locate::{Flip, first_flip};
use super::run::{MOST_AT_ONCE, MOST_ON_AN_HOUR, Options, Record, Run, RunError, Stretch};
use super::standing::Standing;
use super::statistics::Statistics;
use super::steppers::{Stepper, Steppers};
use super::trace::{Knot, Trace};
use crate::logic::start_stop::thresholds;
use crate::logic::{self, Mode, Sight, Transition, engine_start, pick_up};
use crate::model::{Model, Piece, Profile};
use crate::network::source::SourceState;
use crate::network::{Net, Regime, free_at, house_room, solve};
use crate::plant::battery::BatteryHold;
use crate::plant_view::Held;
use crate::run_data::day_book::{DayBook, OpenDay};
use crate::run_data::event::{Bound, Cause, Event, EventKind, Side};
use crate::run_data::ledger::{Ledger, closure};
use crate::run_data::stress::Stress;
use crate::state::{self, Vector};
use crate::time::Instant;

/// Most steps in a row of under [`SHORT_NS`] before the run gives up.
const MOST_SHORT: u32 = 10_000;
const SHORT_NS: i64 = 16;
/// Share of a step at which its course next to an end is looked at.
const NEXT_TO_AN_END: f64 = 1.0 / 64.0;
/// Steps up to this long are let go all the same: what they leave open is next to nothing.
const CLOSED_FROM_NS: i64 = 1_000_000;
/// Steps shorter than this hide no turn of a temperature worth looking for.
const TURNS_NS: i64 = 2_000_000_000;
/// Where golden section cuts.
const GOLDEN: f64 = 0.381_966_011_250_105;

/// Runs a vehicle through a drive.
///
/// # Errors
/// [`RunError`] when the inputs lead out of what the model describes or the rules contradict each other.
pub fn simulate(model: &Model, profile: &Profile, options: &Options) -> Result<Run, RunError> {
    whole(begin(model, profile, options, None)?)
}

/// Runs a vehicle as far as its drive goes or the model follows: where a part gets too hot or the unit switches without end
/// the run ends there, and says why ([`Run::ended_early`]). [`Profile::between`] makes the drive up to there.
///
/// # Errors
/// As [`simulate`], but for [`RunError::ends_at`].
pub fn simulate_as_far(model: &Model, profile: &Profile, options: &Options) -> Result<Run, RunError> {
    begin(model, profile, options, None)
}

pub(super) fn whole(run: Run) -> Result<Run, RunError> {
    match run.ended_early {
        Some(why) => Err(why),
        None => Ok(run),
    }
}

/// Runs a vehicle on from where another run ended: states, modes and running timers are taken over.
///
/// # Errors
/// As [`simulate`], and [`RunError::OtherTime`] when the profile does not start at the instant of `from`;
/// [`Standing::moved_to`] brings it there.
pub fn simulate_from(
    model: &Model,
    profile: &Profile,
    options: &Options,
    from: &Standing,
) -> Result<Run, RunError> {
    if from.t != profile.start() {
        return Err(RunError::OtherTime { start: profile.start(), standing: from.t });
    }
    whole(begin(model, profile, options, Some(from))?)
}

fn begin(
    model: &Model,
    profile: &Profile,
    options: &Options,
    from: Option<&Standing>,
) -> Result<Run, RunError> {
    taken(model, profile, options, from).1
}

/// A run, as far as it goes, and how many steps it took, whatever became of it.
pub(super) fn taken(
    model: &Model,
    profile: &Profile,
    options: &Options,
    from: Option<&Standing>,
) -> (u64, Result<Run, RunError>) {
    if !(1e-13..=1e-3).contains(&options.tolerance) {
        return (0, Err(RunError::Tolerance(options.tolerance)));
    }
    let mut sim = Simulation::new(model, profile, options);
    if let Some(from) = from {
        sim.take_over(from);
    }
    let ended = sim.run_to_end();
    let attempts = sim.statistics.steps + sim.statistics.rejections;
    // Where nothing has gone by there is nothing to tell of.
    let early =
        ended.err().map(|e| if e.ends_at().is_some_and(|t| t > profile.start()) { Ok(e) } else { Err(e) });
    (attempts, early.transpose().and_then(|early| sim.passed(early)))
}

/// Takes the steps of a run again, from where it said how it stood until an instant at which it did so again. Nothing is
/// carried from one hold to the next but what a mark says, so they are the same to the bit.
pub(crate) fn retake(
    model: &Model,
    profile: &Profile,
    options: &Options,
    from: &Mark,
    until: Instant,
) -> Vec<Knot> {
    let mut sim = Simulation::new(model, profile, options);
    sim.take_over(&from.standing);
    (sim.t, sim.calm, sim.carried_s) = (from.standing.t, from.calm, from.carried_s);
    (sim.turn_ons, sim.by_row_until) = (from.turn_ons, from.by_row_until);
    sim.take_piece(from.piece);
    let mut steppers = Steppers::new(options.stepper, model);
    while sim.t < until {
        // It went well the first time.
        if sim.advance(&mut steppers).and_then(|()| sim.settle()).is_err() {
            break;
        }
    }
    sim.trace.into_kept()
}

struct Simulation<'a> {
    model: &'a Model,
    profile: &'a Profile,
    options: &'a Options,
    t: Instant,
    y: Vector,
    start: Vector,
    piece: usize,
    /// That piece: what holds now.
    now: Piece,
    mode: Mode,
    regime: Regime,
    net: Net,
    /// How far the house bus is from the most that it can give, where the network was last solved anew.
    house_room: f64,
    events: Vec<Event>,
    ledger: Ledger,
    stretches: Vec<Stretch>,
    stretch_from: (Instant, Ledger),
    extremes: Extremes,
    fuses: Fuses<'a>,
    stress: Stress,
    statistics: Statistics,
    trace: Trace,
    days: Vec<DayBook>,
    day: OpenDay,
    reached: Reached,
    step_gate: StepGate,
    short_steps: u32,
    /// Times that the unit came on, and since when they are counted.
    turn_ons: (Instant, u32),
    /// Whether the last step ended at a known time with nothing flipped.
    calm: bool,
    /// Until when rows are held one by one: a hold over several was ended by a guard that was too careful.
    by_row_until: Instant,
    /// Length of the last step, s, where it ended on the piece of a battery's table and on nothing else: the course is
    /// smooth there, and starts no transient that a short step would have to look for.
    carried_s: Option<f64>,
    /// Share of the fastest state's time that a first step may take.
    first_share: f64,
}

impl<'a> Simulation<'a> {
    fn new(model: &'a Model, profile: &'a Profile, options: &'a Options) -> Self {
        let first = profile.pieces().at(0);
        let y = state::at_start(model, first.air_c, first.bay_c);
        let mut sim = Simulation {
            model,
            profile,
            options,
            t: profile.start(),
            y,
            start: y,
            piece: 0,
            now: first,
            mode: Mode::default(),
            regime: Regime::default(),
            net: Net::default(),
            house_room: f64::INFINITY,
            events: Vec::new(),
            ledger: Ledger::default(),
            stretches: Vec::new(),
            stretch_from: (profile.start(), Ledger::default()),
            extremes: Extremes::default(),
            fuses: Fuses::new(model),
            stress: Stress::new(model, profile.start()),
            statistics: Statistics::default(),
            trace: Trace::new(options),
            days: Vec::new(),
            day: OpenDay::new(first.day, profile.start(), y, Ledger::default()),
            reached: Reached::new(model, &y, &first),
            step_gate: StepGate::new(model, options),
            short_steps: 0,
            turn_ons: (profile.start(), 0),
            calm: false,
            by_row_until: profile.start(),
            carried_s: None,
            first_share: 0.5 * options.tolerance.powf(0.2),
        };
        sim.mode.starter_hold = model.starter.hold(&state::starter(&y), -1.0);
        sim.mode.house_hold = model.house.hold(&state::house(&y), -1.0);
        sim.net = sim.solve();
        // The filter before the thresholds has stood at these terminals long enough.
        let compensation_ohm = model.link().start_stop.compensation_ohm;
        // Loads that nothing can carry are shed before the first step, and take no volts below nothing.
        sim.y[state::SEEN_V] = (sim.net.in_v + compensation_ohm * sim.net.input_a).max(0.0);
        sim.start = sim.y;
        sim
    }

    fn run_to_end(&mut self) -> Result<(), RunError> {
        let mut steppers = Steppers::new(self.options.stepper, self.model);
        self.enter_piece()?;
        self.settle()?;
        while self.t < self.profile.end() {
            if self.trace.wants_mark() {
                let mark = self.mark();
                self.trace.mark(mark);
            }
            self.advance(&mut steppers)?;
            self.settle()?;
        }
        Ok(())
    }

    fn take_over(&mut self, from: &Standing) {
        (self.y, self.mode, self.regime, self.net) = (from.state, from.mode, from.regime, from.net);
        self.start = from.state;
        self.reached = Reached::new(self.model, &from.state, &self.now);
        self.fuses.wear = from.worn;
        self.day = OpenDay::new(self.now.day, from.t, from.state, Ledger::default());
    }

    fn take_piece(&mut self, n: usize) {
        (self.piece, self.now) = (n, self.profile.pieces().at(n));
    }

    /// What is held now, under the conditions of a piece: a copy of `now`, so that the run can go on meanwhile.
    fn held<'b>(&self, now: &'b Piece) -> Held<'b>
    where
        'a: 'b,
    {
        let since_on = if self.mode.on { self.t.since(self.mode.on_since) } else { 0.0 };
        let mut held = Held::new(self.model, now, self.mode, since_on);
        held.free = free_at(self.options.tolerance);
        held
    }

    /// The same for steps from here; the reference works out at every temperature what it decides.
    fn held_here<'b>(&self, now: &'b Piece) -> Held<'b>
    where
        'a: 'b,
    {
        let mut held = self.held(now);
        self.settle_around(&mut held);
        held
    }

    fn settle_around(&self, held: &mut Held) {
        if self.options.stepper == Stepper::Fast {
            held.settle_around(&self.y);
        }
    }

    /// Solves the network and reads what is held about the batteries until both agree.
    fn solve(&mut self) -> Net {
        let (starter, house) = (state::starter(&self.y), state::house(&self.y));
        // The table piece may change the EMF by rounding only, so one more round always agrees.
        for _ in 0..2 {
            let held = self.held(&self.now);
            let bias = held.bias(0.0, &self.y);
            let (net, regime) = solve(&bias);
            self.house_room = house_room(&bias, regime, &net);
            let net = held.complete(&self.y, net);
            self.regime = regime;
            self.net = net;
            let starter_hold = self.model.starter.hold(&starter, net.starter_a);
            let house_hold = self.model.house.hold(&house, net.house_a);
            let same_pieces = pieces(&starter_hold) == pieces(&self.mode.starter_hold)
                && pieces(&house_hold) == pieces(&self.mode.house_hold);
            self.mode.starter_hold = starter_hold;
            self.mode.house_hold = house_hold;
            if same_pieces {
                break;
            }
        }
        self.mode.slewing = self.model.alternator.pick_up.is_some()
            && pick_up::slews(&self.held(&self.now), &self.y, &self.net);
        self.net
    }

    /// Solves again after a change and records it, with what moved along with it.
    fn resolve(&mut self, made: Option<Transition>) -> Result<(), RunError> {
        let (before, regime, mode) = (self.net, self.regime, self.mode);
        let after = self.solve();
        if let Some(Transition { kind, cause }) = made {
            if let EventKind::FuseOpened { at } = kind {
                self.fuses.opens(at, self.t, self.model, &self.now, &self.y, &before);
            }
            self.record(Event { t: self.t, kind, cause, before, after })?;
        }
        let t = self.t;
        let network = |kind| Event { t, kind, cause: Cause::Network, before, after };
        let (from, to) = (regime.limit, self.regime.limit);
        if from != to && mode.on && self.mode.on {
            self.record(network(EventKind::Limit { from, to }))?;
        }
        let full = |r: Regime| r.starter[0] == SourceState::Full;
        if full(regime) != full(self.regime) {
            self.record(network(EventKind::AlternatorFull { full: full(self.regime) }))?;
        }
        let sides = [
            (Side::Starter, mode.starter_hold, self.mode.starter_hold),
            (Side::House, mode.house_hold, self.mode.house_hold),
        ];
        for (side, was, is) in sides {
            if bound(was) != bound(is) {
                self.record(network(EventKind::Bound { side, at: bound(is) }))?;
            }
        }
        Ok(())
    }

    fn record(&mut self, event: Event) -> Result<(), RunError> {
        self.statistics.events += 1;
        if self.statistics.events > self.options.most_events {
            return Err(RunError::TooManyEvents { t: self.t, most: self.options.most_events });
        }
        self.events.push(event);
        if event.kind == EventKind::UnitOn { self.watch_chatter() } else { Ok(()) }
    }

    fn sight<'b>(&'b self, net: &'b Net) -> Sight<'b> {
        Sight {
            model: self.model,
            piece: &self.now,
            t: self.t,
            y: &self.y,
            net,
            regime: self.regime,
            house_room: self.house_room,
            mode_house_hold: self.mode.house_hold,
            worn: self.fuses.wear,
        }
    }

    /// Runs the discrete rules at this instant until nothing changes, and forgets the last step's length where anything
    /// but a table's piece has.
    fn settle(&mut self) -> Result<(), RunError> {
        let was = (self.mode, self.regime, self.piece);
        let (entered, first) = (self.net, self.events.len());
        self.settle_rules()?;
        // Volts that a collapse forestalled at this very instant were never there: its events tell those that were.
        let entered = if stands(&entered) { entered } else { self.net };
        for event in &mut self.events[first..] {
            if !stands(&event.before) {
                event.before = entered;
            }
            if !stands(&event.after) {
                event.after = self.net;
            }
        }
        let masked = |mut m: Mode| {
            for (hold, was) in
                [(&mut m.starter_hold, was.0.starter_hold), (&mut m.house_hold, was.0.house_hold)]
            {
                (hold.plain.piece, hold.top_piece) = (was.plain.piece, was.top_piece);
            }
            m
        };
        if self.carried_s.is_some() && (masked(self.mode), self.regime, self.piece) != was {
            self.carried_s = None;
        }
        Ok(())
    }

    fn settle_rules(&mut self) -> Result<(), RunError> {
        self.statistics.settles += 1;
        // Where a fast step reached a known time with every guard standing, the network is as the step left it.
        if !self.calm {
            self.resolve(None)?;
        }
        let mut rounds = 0;
        loop {
            let net = self.net;
            let mut mode = self.mode;
            let sight = self.sight(&net);
            let made = logic::fire_timer(&mut mode, &sight);
            if made.is_some() {
                self.mode = mode;
                self.resolve(made)?;
            } else if self.t >= self.now.end && self.t < self.profile.end() {
                self.take_piece(self.piece + 1);
                self.enter_piece()?;
            } else {
                let (made, changed) = logic::read_conditions(&mut mode, &sight);
                self.mode = mode;
                if made.is_some() {
                    self.resolve(made)?;
                }
                if !changed {
                    return Ok(());
                }
            }
            rounds += 1;
            if rounds > MOST_AT_ONCE {
                return Err(RunError::EndlessSwitching { t: self.t });
            }
        }
    }

    fn enter_piece(&mut self) -> Result<(), RunError> {
        let piece = &self.now;
        self.reached.enter(piece);
        if piece.day != self.day.day {
            self.days.push(self.day.close(self.t, &self.y, &self.ledger));
            self.day = OpenDay::new(piece.day, self.t, self.y, self.ledger);
        }
        let made = engine_start::enter_piece(&mut self.mode, self.model, piece, self.t);
        if made.is_some() {
            self.close_stretch(!piece.engine_runs());
            // Whether it starts or stops, the alternator's current begins again from nothing.
            self.y[state::PICKED_UP_A] = 0.0;
        }
        self.resolve(made)
    }

    fn close_stretch(&mut self, driving: bool) {
        let (from, at) = self.stretch_from;
        if self.t > from {
            let ledger = self.ledger.since(&at);
            let (end, worn) = (self.y, self.fuses.wear);
            self.stretches.push(Stretch { driving, from, to: self.t, ledger, end, worn });
        }
        self.stretch_from = (self.t, self.ledger);
    }

    /// The conditions over several rows of a log, where only what does not act changes; the reference takes row by row.
    fn look_ahead(&self) -> Option<Piece> {
        if self.options.stepper == Stepper::Reference || self.t < self.by_row_until {
            return None;
        }
        let held = self.held(&self.now);
        ahead::look(self.model, self.profile.pieces(), self.piece, &held, (&self.y, &self.net, self.regime))
    }

    /// Steps until the next known time or the first guard that flips.
    fn advance(&mut self, steppers: &mut Steppers) -> Result<(), RunError> {
        let ahead = self.look_ahead();
        let over_rows = ahead.is_some();
        let now = ahead.unwrap_or(self.now);
        let stop = self.mode.timers.next().min(now.end);
        let mut held = self.held_here(&now);
        held.over_rows = over_rows;
        let mut first = steppers.hold(&held, self.regime, self.y);
        let mut g_first = evaluate(&held, self.regime, 0.0, &self.y, &first.net);
        if over_rows && g_first.iter().any(|g| *g < 0.0) {
            self.by_row_until = self.now.end;
            return Ok(());
        }
        self.extremes.see(self.t, &self.mode, self.model, &self.y, &first.net);
        self.stress.begin(self.t, &self.mode, self.model, &self.y, &first.net);
        self.calm = false;
        // A step that ends with every guard standing has room left.
        self.house_room = f64::INFINITY;
        let mut rejected = false;
        let (tolerance, growth) = (self.options.tolerance, steppers.growth(self.options.tolerance));
        let mut h_s = steppers.first_step_s((&held, self.regime), &first, tolerance, self.first_share);
        if let Some(carried_s) = self.carried_s.take() {
            // A piece so steep that its volts turn the current back within the step does start a transient.
            h_s = h_s.max(carried_s.min(self.turns_back_s()));
        }
        while self.t < stop {
            let left_ns = stop.ns() - self.t.ns();
            let mut ns = ((h_s * 1e9) as i64).clamp(1, left_ns);
            // A sliver left over would cost a whole step; after a rejection the shorter length stands.
            if !rejected && left_ns - ns < ns / 8 {
                ns = left_ns;
            }
            let tried_s = ns as f64 * 1e-9;
            if self.statistics.steps + self.statistics.rejections >= self.options.most_steps {
                return Err(RunError::TooManySteps { t: self.t, most: self.options.most_steps });
            }
            let error = steppers.attempt(&held, self.regime, &first, tried_s, tolerance);
            let accepted = error <= 1.0;
            // The last step before a known time needs no length of the next.
            let next_s = if accepted && ns == left_ns { tried_s } else { tried_s * grow(error, growth) };
            if !accepted {
                self.statistics.rejections += 1;
                if ns <= SHORT_NS {
                    finite::check(self.t, &steppers.end().y, &steppers.end().net)?;
                    return Err(RunError::NotFinite { t: self.t, what: "the error of the shortest step" });
                }
                h_s = next_s.min(steppers.shorter() * tried_s);
                rejected = true;
                continue;
            }
            steppers.finish(&held, self.regime, &first);
            let g_last = steppers.last(&held, self.regime);
            let flip = self.find_flip(&held, steppers, ns, &g_first, &g_last);
            let mut taken = flip.map_or(ns, |f| f.ns);
            let mut booked = steppers.booked(&held, taken as f64 * 1e-9);
            if taken > CLOSED_FROM_NS
                && !steppers.closes(&held, taken as f64 * 1e-9, &booked, &self.step_gate)
            {
                self.statistics.rejections += 1;
                h_s = 0.5 * taken as f64 * 1e-9;
                rejected = true;
                continue;
            }
            rejected = false;
            let opens = self.follow_fuses(&held, steppers, taken);
            if let Some(sooner) = opens {
                (taken, booked) = (sooner, steppers.booked(&held, sooner as f64 * 1e-9));
            }
            self.ledger.add(&booked, 1.0);
            self.accept(&held, steppers, taken)?;
            if opens.is_some() {
                self.statistics.located += 1;
                self.short_steps = 0;
                return Ok(());
            }
            if let Some(flip) = flip {
                self.statistics.located += 1;
                self.statistics.hidden += u64::from(flip.hidden);
                self.carried_s = (self.options.stepper == Stepper::Fast).then_some(tried_s);
                if over_rows
                    && matches!(
                        Guard::of(flip.guard),
                        Guard::UnitLimit | Guard::SourceState | Guard::Alternator
                    )
                {
                    self.by_row_until = self.now.end;
                }
                return self.watch_short(taken, flip);
            }
            self.short_steps = 0;
            h_s = next_s;
            if self.t >= stop {
                self.calm = self.options.stepper == Stepper::Fast && !self.mode.slewing;
                break;
            }
            first = *steppers.end();
            g_first = g_last;
            if self.mode.ramping() {
                held = self.held_here(&now);
                held.over_rows = over_rows;
            } else {
                self.settle_around(&mut held);
            }
            steppers.forget();
        }
        Ok(())
    }

    /// How soon a current is turned back by the volts that it brings, on the pieces of their tables that the batteries are on, s.
    fn turns_back_s(&self) -> f64 {
        let (starter, house) = (state::starter(&self.y), state::house(&self.y));
        let starter_s = self.model.starter.turns_back_s(&starter, &self.mode.starter_hold);
        starter_s.min(self.model.house.turns_back_s(&house, &self.mode.house_hold))
    }

    /// Ends the run when guards keep ending steps that are next to nothing.
    fn watch_short(&mut self, taken: i64, flip: Flip) -> Result<(), RunError> {
        self.short_steps = if taken <= SHORT_NS { self.short_steps + 1 } else { 0 };
        if self.short_steps > MOST_SHORT {
            return Err(RunError::Stalled { t: self.t, guard: Guard::of(flip.guard) });
        }
        Ok(())
    }

    /// Ends the run where the unit comes on thousands of times within an hour.
    fn watch_chatter(&mut self) -> Result<(), RunError> {
        let (since, times) = &mut self.turn_ons;
        if self.t.since(*since) > 3600.0 {
            (*since, *times) = (self.t, 0);
        }
        *times += 1;
        if *times > MOST_ON_AN_HOUR {
            return Err(RunError::Chatters { t: self.t, times: *times });
        }
        Ok(())
    }

    fn find_flip(
        &self,
        held: &Held,
        tried: &Steppers,
        ns: i64,
        first: &Values,
        last: &Values,
    ) -> Option<Flip> {
        let at = |at: i64| tried.guards_at(held, self.regime, at as f64 * 1e-9);
        if let Some(courses) = tried.courses(first) {
            return courses.doubtful().and_then(|laid| laid.first_flip(ns, first, last, at));
        }
        let inner = tried.hints(held, self.regime, first, last);
        first_flip(ns, first, &inner, last, at)
    }

    /// Follows what an accepted step asks of the fuses; where one wears through, the length until then, ns.
    fn follow_fuses(&mut self, held: &Held, tried: &Steppers, ns: i64) -> Option<i64> {
        if self.fuses.none() {
            return None;
        }
        let step = fuses::Step { start: self.t, held, regime: self.regime, tried };
        self.fuses.follow(&step, ns)
    }

    fn accept(&mut self, held: &Held, tried: &Steppers, ns: i64) -> Result<(), RunError> {
        let dt = ns as f64 * 1e-9;
        let whole = dt == tried.h_s();
        let from = self.y;
        if self.options.record != Record::Summary {
            let (mode, regime, dense) = (self.mode, self.regime, tried.dense());
            // Over several rows a step may begin where one ends: its row is the next.
            let piece = self.piece + usize::from(self.t >= self.now.end);
            self.trace.push(Knot { start: self.t, ns, piece, mode, regime, dense });
        }
        self.y = if whole { tried.end().y } else { tried.state_at(dt) };
        self.t = self.t.plus_ns(ns);
        if self.t > self.now.end {
            // Over several rows: at the end of one that row still holds, as where it is held by itself.
            self.take_piece(self.profile.pieces().index_at(self.t.plus_ns(-1)));
        }
        self.net = if whole { tried.end().net } else { held.net(dt, &self.y, self.regime) };
        self.statistics.steps += 1;
        self.look_inside(held, tried, ns);
        self.extremes.see(self.t, &self.mode, self.model, &self.y, &self.net);
        self.stress.see(self.t, &self.mode, self.model, &self.y, &self.net);
        self.look_for_turns(tried, &from, ns);
        self.day.see(self.t, &self.y);
        self.reached.see(&self.y);
        finite::check(self.t, &self.y, &self.net)
    }

    /// Shows the stress where a temperature turns back inside a step: it warms on after its current has begun to fall.
    fn look_for_turns(&mut self, tried: &Steppers, from: &Vector, ns: i64) {
        if ns < TURNS_NS || !self.stress.may_turn(from, &self.y) {
            return;
        }
        let dt = ns as f64 * 1e-9;
        for share in self.stress.turns(from, &tried.state_at(0.5 * dt), &self.y).into_iter().flatten() {
            let at_ns = (share * ns as f64) as i64;
            self.stress.inside(self.t.plus_ns(at_ns - ns), &tried.state_at(at_ns as f64 * 1e-9));
        }
    }

    /// Shows the extremes what lies inside a step: where the volts at the unit's input turn back, and come near a new extreme.
    fn look_inside(&mut self, held: &Held, tried: &Steppers, ns: i64) {
        if ns <= 1_000_000 {
            return;
        }
        let (in_v, nodes) = tried.in_v();
        let (on, turns, e) = (self.mode.on, self.mode.alternator_turns(), &self.extremes);
        let met = |m: Option<Met>| m.map_or(f64::INFINITY, |m| m.value);
        // Off, the input stands at the starter posts, next to nothing apart.
        let low_v = match (on, turns) {
            (true, true) => met(e.margin_v) + thresholds(&self.model.link().start_stop, self.mode.signal).1,
            (true, false) => f64::NEG_INFINITY,
            (false, _) => met(e.starter_low_v),
        };
        let high_v =
            if turns && !on { e.waiting_in_v.map_or(f64::NEG_INFINITY, |m| m.value) } else { f64::INFINITY };
        for (sign, near_v) in [(1.0, low_v), (-1.0, -high_v)] {
            let points = in_v[..nodes].iter().map(|v| sign * v).enumerate();
            let Some((at, lowest_v)) = points.min_by(|a, b| a.1.total_cmp(&b.1)) else { continue };
            if lowest_v < near_v + 1e-3 {
                self.see_turn(held, tried, ns, sign, (at, nodes - 1));
            }
        }
    }

    /// Shows the extremes where the volts at the unit's input turn back within an accepted step, whose lowest point (for a sign of 1)
    /// is `at` of `last`; at an end, only where the course next to it lies lower still.
    fn see_turn(&mut self, held: &Held, tried: &Steppers, ns: i64, sign: f64, (at, last): (usize, usize)) {
        let start = self.t.plus_ns(-ns);
        let (mut low, mut high) = (0.0, tried.early_share(at) * tried.h_s() * 1e9);
        high = high.min(ns as f64);
        let mut look = |share: f64, low: f64, high: f64| {
            let inside = (low + share * (high - low)) as i64;
            let net = tried.net_at(held, self.regime, inside as f64 * 1e-9);
            let y = self.seen_state(tried, inside);
            self.extremes.see(start.plus_ns(inside), &self.mode, self.model, &y, &net);
            sign * net.in_v
        };
        if at == 0 || at == last {
            let (end, next) = if at == 0 { (0.0, NEXT_TO_AN_END) } else { (1.0, 1.0 - NEXT_TO_AN_END) };
            if look(next, low, high) >= look(end, low, high) {
                return;
            }
        }
        // Golden section; an extreme has one turn within a step, and its depth is known to the square of what is left of the
        // width.
        let (mut a, mut b) = (look(GOLDEN, low, high), look(1.0 - GOLDEN, low, high));
        for _ in 0..20 {
            if a < b {
                high = low + (1.0 - GOLDEN) * (high - low);
                (b, a) = (a, look(GOLDEN, low, high));
            } else {
                low += GOLDEN * (high - low);
                (a, b) = (b, look(1.0 - GOLDEN, low, high));
            }
        }
    }

    /// The states that decide what the unit sees inside the last step: its filter, where it has one.
    fn seen_state(&self, tried: &Steppers, ns: i64) -> Vector {
        let filtered = self.model.link().start_stop.filter_s > 0.0;
        if filtered { tried.state_at(ns as f64 * 1e-9) } else { self.y }
    }

    fn standing(&self) -> Standing {
        let (t, state, mode, regime, net) = (self.t, self.y, self.mode, self.regime, self.net);
        Standing { t, state, mode, regime, net, worn: self.fuses.wear }
    }

    fn mark(&self) -> Mark {
        let (piece, calm, carried_s, turn_ons) = (self.piece, self.calm, self.carried_s, self.turn_ons);
        let by_row_until = self.by_row_until;
        Mark { standing: self.standing(), piece, calm, carried_s, turn_ons, by_row_until }
    }

    /// The run, if it passes the gate.
    fn passed(self, ended_early: Option<RunError>) -> Result<Run, RunError> {
        let (model, options, reached) = (self.model, self.options, self.reached);
        let run = Run { ended_early, ..self.finish() };
        let span_s = run.span.1.since(run.span.0);
        gate::pass(model, (options, span_s), &reached, &run.ledger, &run.closure)?;
        Ok(run)
    }

    fn finish(mut self) -> Run {
        self.close_stretch(self.mode.engine_runs);
        self.days.push(self.day.close(self.t, &self.y, &self.ledger));
        Run {
            standing: self.standing(),
            ended_early: None,
            days: self.days,
            span: (self.profile.start(), self.t),
            closure: closure(self.model, &self.ledger, &self.start, &self.y),
            start: self.start,
            end: self.y,
            events: self.events,
            ledger: self.ledger,
            stretches: self.stretches,
            extremes: self.extremes,
            fuses: self.fuses.into_works(),
            stress: self.stress,
            statistics: self.statistics,
            trace: self.trace,
        }
    }
}

/// Whether volts and amps are those of a real bus: where loads ask for more than can be had, currents do not add up.
fn stands(net: &Net) -> bool {
    let open_a = net.output_a + net.solar_a + net.charger_a - net.house_load_a - net.house_a;
    net.sb_v >= 0.0 && open_a.abs() <= 1e-3 * (1.0 + net.house_load_a.abs())
}

fn bound(hold: BatteryHold) -> Bound {
    if hold.plain.saturated { Bound::Full } else { Bound::Within }
}

/// Table pieces that a hold names.
fn pieces(hold: &BatteryHold) -> (u16, u16) {
    (hold.plain.piece, hold.top_piece)
}

/// Factor on the step length for the next attempt.
fn grow(error: f64, most: f64) -> f64 {
    if error.is_finite() { (0.9 * error.max(1e-10).powf(-0.2)).clamp(0.2, most) } else { 0.1 }
}
