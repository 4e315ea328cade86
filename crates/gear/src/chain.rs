//! A chain of straight elastic segments between two fixed points, in a current: where its nodes hang and how hard it pulls.
//!
//! Model: positions of the nodes and tensions of the segments are unknowns together (mixed form, so that a stiff line is no
//! stiff problem). At each inner node `T t − T' t' + loads = 0`; for each segment `|Δr| = ℓ (1 + T/EA)`. Weight counts per
//! unstretched metre, drag per stretched metre, `½ρ d [C_n |u_n| u_n + π C_t |u_t| u_t]` (the form of Morison et al. 1950
//! with the split in normal and tangential flow of MoorDyn, Hall 2015; neither read: SOURCE NOT CHECKED), taken on the straight segment
//! at its mid depth; half of each goes to each of its two nodes. Second order in the length of the segments.
//!
//! Newton steps on a banded matrix, halved until the residual falls, the current brought on in steps. A start that this does
//! not bring home is relaxed in time first (drag on the moving nodes, slack segments allowed: see [`Motion`]), so that of
//! several shapes in balance a stable one is found. Where a segment would hang slack (sag ratios below some 0.2 in a strong
//! current) no shape of pulled straight segments exists; more of them help.

mod band;
mod load;
mod newton;
mod start;
mod strand;

use crate::current::Profile;
use crate::error::{GearError, above_up_to};
use crate::vector::{Vector, norm, plus};

use newton::{Effort, Problem, State, solve};
pub(crate) use strand::{chain_of, pull_by_relaxing};

/// One straight piece of line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Length without load, metres.
    pub unstretched_m: f64,
    /// Pull that would stretch it to double length, N.
    pub axial_stiffness_n: f64,
    /// Weight in water of one unstretched metre, N/m, down positive.
    pub weight_n_m: f64,
    /// Drag across the line, ½ρ d C_n, kg/m².
    pub normal_kg_m2: f64,
    /// Drag along the line, ½ρ π d C_t, kg/m².
    pub tangential_kg_m2: f64,
    /// Drag of what is spread along the line, against horizontal flow, ½ρ C A per stretched metre, kg/m².
    pub spread_kg_m2: f64,
}

/// What hangs on a node.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct NodeLoad {
    /// Weight in water, N, down positive.
    pub weight_n: f64,
    /// Drag against horizontal flow, ½ρ C A, kg/m.
    pub drag_kg_m: f64,
    /// Down to how far below the node the flow is averaged for its drag, metres; 0 takes the flow at the node.
    pub drag_down_m: f64,
}

/// The chain.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// The two points that hold it: along, to starboard, down, metres.
    pub ends_m: [Vector; 2],
    /// Its segments from the first end to the second.
    pub segments: Vec<Segment>,
    /// What hangs on each node, the two ends included: one more than segments.
    pub loads: Vec<NodeLoad>,
    /// Horizontal velocity of each node through the frame of the current, m/s, as many as loads; none is at rest.
    pub velocity_m_s: Vec<[f64; 2]>,
}

/// A chain at rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Relaxed {
    /// Every node, the two ends included, metres.
    pub nodes_m: Vec<Vector>,
    /// Pull in each segment, N (at its middle; the loads of the segment sit on its nodes).
    pub tension_n: Vec<f64>,
    /// Force of the chain on what holds each of its ends, N; loads on the end nodes and half the end segments included.
    pub end_pull_n: [Vector; 2],
    /// Steps of Newton's method, all together.
    pub iterations: u32,
}

/// Nodes on their way: the drag of the motion from the old places to the new ones is added, and a segment may be slack.
#[derive(Debug, Clone, Copy)]
pub struct Motion<'a> {
    /// Where every node was, metres.
    pub from_m: &'a [Vector],
    /// For how long they have been moving, seconds.
    pub step_s: f64,
    /// Where the drag of the line is taken.
    pub drag: DragOn,
}

/// Where the drag of a line on its way is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DragOn {
    /// At the middle of each segment, as at rest: a chain that stops is in balance at rest too.
    Segments,
    /// At each node, from its own motion: half of either segment, at a node without weight in the direction from the node
    /// before to the node after, at one with a weight, where the line has a corner, each in its own (as lumped-mass codes
    /// join lines: MoorDyn-C 2.7.2, whose settling times this gives within 1 % with as many segments).
    Nodes,
}

/// Where the chain comes to rest. `start` is a guess of nodes and tensions (a neighbouring answer); without one the catenary
/// of even load is the first guess.
///
/// # Errors
/// [`GearError::HangsSlack`] when it rests with a segment that pulls nothing, [`GearError::NotConverged`] when no rest is
/// found, [`GearError::ChainUneven`] for lists that do not fit together.
pub fn relax(chain: &Chain, profile: &Profile, start: Option<&Relaxed>) -> Result<Relaxed, GearError> {
    chain.check()?;
    let mut effort = Effort::default();
    if let Some(start) = start {
        let mut state = State { nodes_m: start.nodes_m.clone(), tension_n: start.tension_n.clone() };
        if state.fits(chain) {
            state.hold_ends(chain);
            let problem = Problem { chain, profile, share: 1.0, motion: None };
            if solve(&problem, &mut state, &mut effort).is_some() && state.pulls() {
                return Ok(finish(chain, profile, state, &effort));
            }
        }
    }
    let first = start::catenary(chain);
    let state = with_growing_current(chain, profile, &first, &mut effort)
        .map_or_else(|| through_time(chain, profile, &first, &mut effort), Ok)?;
    Ok(finish(chain, profile, state, &effort))
}

/// Where the nodes are after a step in time, without inertia (its time constants are below a second): the backward Euler
/// step, each a convex problem because direction of drag and current are taken where the nodes were.
///
/// # Errors
/// As [`relax`]; the caller may try a shorter step.
pub fn step(
    chain: &Chain,
    profile: &Profile,
    motion: Motion<'_>,
    tension_n: &[f64],
) -> Result<(Vec<Vector>, Vec<f64>), GearError> {
    chain.check()?;
    let mut state = State { nodes_m: motion.from_m.to_vec(), tension_n: tension_n.to_vec() };
    if !state.fits(chain) {
        return Err(GearError::ChainUneven { segments: chain.segments.len(), nodes: state.nodes_m.len() });
    }
    state.hold_ends(chain);
    let mut effort = Effort::default();
    let problem = Problem { chain, profile, share: 1.0, motion: Some(motion) };
    solve(&problem, &mut state, &mut effort).ok_or_else(|| effort.given_up())?;
    Ok((state.nodes_m, state.tension_n))
}

impl Chain {
    /// Refuses a chain whose lists do not fit together or whose numbers no line can have.
    ///
    /// # Errors
    /// [`GearError::ChainUneven`] or [`GearError::OutOfRange`].
    pub fn check(&self) -> Result<(), GearError> {
        let nodes = self.segments.len() + 1;
        let uneven = |found| GearError::ChainUneven { segments: self.segments.len(), nodes: found };
        if nodes < 3 || self.loads.len() != nodes {
            return Err(uneven(self.loads.len()));
        }
        if !self.velocity_m_s.is_empty() && self.velocity_m_s.len() != nodes {
            return Err(uneven(self.velocity_m_s.len()));
        }
        for segment in &self.segments {
            let (length_m, stiffness_n) = (segment.unstretched_m, segment.axial_stiffness_n);
            above_up_to("length of a segment", length_m, (0.0, 1e6), " m", "above 0 and up to 1000000 m")?;
            above_up_to("axial_stiffness_n of a segment", stiffness_n, (0.0, 1e12), " N", "above 0 and up to 1e12 N")?;
        }
        Ok(())
    }

    /// Length without load, metres.
    #[must_use]
    pub fn unstretched_m(&self) -> f64 {
        self.segments.iter().map(|segment| segment.unstretched_m).sum()
    }

    /// Weight in water of everything between the ends and on them, N.
    #[must_use]
    pub fn weight_n(&self) -> f64 {
        self.segments.iter().map(|segment| segment.weight_n_m * segment.unstretched_m).sum::<f64>()
            + self.loads.iter().map(|load| load.weight_n).sum::<f64>()
    }
}

/// Brings the current on in quarters; a part that does not go is halved.
fn with_growing_current(chain: &Chain, profile: &Profile, first: &State, effort: &mut Effort) -> Option<State> {
    const SMALLEST: f64 = 1.0 / 128.0;
    let mut state = first.clone();
    let still = profile.is_still() && chain.velocity_m_s.iter().all(|v| v[0].hypot(v[1]) < 1e-12);
    let mut share = if still { 1.0 } else { 0.0 };
    solve(
        &Problem { chain, profile: &profile.changed(share, 0.0, [0.0; 2]), share, motion: None },
        &mut state,
        effort,
    )?;
    let mut part = 0.25;
    while share < 1.0 {
        let next = f64::min(share + part, 1.0);
        let mut trial = state.clone();
        let weaker = profile.changed(next, 0.0, [0.0; 2]);
        let problem = Problem { chain, profile: &weaker, share: next, motion: None };
        if solve(&problem, &mut trial, effort).is_some() && trial.pulls() {
            (state, share) = (trial, next);
        } else {
            part /= 2.0;
            if part < SMALLEST {
                return None;
            }
        }
    }
    state.pulls().then_some(state)
}

/// Lets the chain go in the full current and follows it; now and then looks whether Newton's method brings it to rest.
fn through_time(chain: &Chain, profile: &Profile, first: &State, effort: &mut Effort) -> Result<State, GearError> {
    const STEPS: u32 = 600;
    const LONGEST_S: f64 = 200.0;
    const STANDS_M: f64 = 1e-7;
    let mut state = first.clone();
    let mut step_s = 2.0;
    for count in 1..=STEPS {
        let mut next = state.clone();
        let motion = Some(Motion { from_m: &state.nodes_m, step_s, drag: DragOn::Segments });
        if solve(&Problem { chain, profile, share: 1.0, motion }, &mut next, effort).is_none() {
            step_s /= 4.0;
            if step_s < 1e-3 {
                break;
            }
            continue;
        }
        let stands = next.nodes_m.iter().zip(&state.nodes_m).all(|(to, from)| norm(plus(*to, -1.0, *from)) < STANDS_M);
        state = next;
        step_s = f64::min(step_s * 1.3, LONGEST_S);
        if stands || count % 10 == 0 {
            let mut rest = state.clone();
            let problem = Problem { chain, profile, share: 1.0, motion: None };
            if solve(&problem, &mut rest, effort).is_some() && rest.pulls() {
                return Ok(rest);
            }
        }
        if stands && let Some(along_m) = slack_at(chain, &state) {
            return Err(GearError::HangsSlack { along_m });
        }
    }
    Err(effort.given_up())
}

/// Where along the chain a segment hangs without pull, metres; none where all pull.
fn slack_at(chain: &Chain, state: &State) -> Option<f64> {
    let slack = state.tension_n.iter().position(|pull| *pull < 1e-4)?;
    let before_m: f64 = chain.segments.iter().take(slack).map(|segment| segment.unstretched_m).sum();
    Some(before_m + 0.5 * chain.segments.get(slack)?.unstretched_m)
}

fn finish(chain: &Chain, profile: &Profile, state: State, effort: &Effort) -> Relaxed {
    let end_pull_n = newton::end_pull(&Problem { chain, profile, share: 1.0, motion: None }, &state);
    Relaxed { nodes_m: state.nodes_m, tension_n: state.tension_n, end_pull_n, iterations: effort.iterations }
}

impl State {
    fn fits(&self, chain: &Chain) -> bool {
        self.tension_n.len() == chain.segments.len()
            && self.nodes_m.len() == chain.loads.len()
            && self.tension_n.iter().chain(self.nodes_m.iter().flatten()).all(|value| value.is_finite())
    }

    fn hold_ends(&mut self, chain: &Chain) {
        let last = self.nodes_m.len() - 1;
        self.nodes_m[0] = chain.ends_m[0];
        self.nodes_m[last] = chain.ends_m[1];
    }

    /// Whether no segment pushes: a line cannot.
    fn pulls(&self) -> bool {
        self.tension_n.iter().all(|pull| *pull > -1e-9)
    }
}

/// Direction and length from one node to the next; straight down for two nodes in one place.
fn direction(from: Vector, to: Vector) -> (Vector, f64) {
    let between = plus(to, -1.0, from);
    let length_m = norm(between);
    if length_m > 1e-12 {
        let scale = 1.0 / length_m;
        ([between[0] * scale, between[1] * scale, between[2] * scale], length_m)
    } else {
        ([0.0, 0.0, 1.0], 0.0)
    }
}
