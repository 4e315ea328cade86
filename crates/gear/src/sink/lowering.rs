//! The main line followed in time from the stern, or from where it was laid, until it hangs.

use super::{Laid, SinkPlan};
use crate::chain::{Chain, DragOn, Motion, NodeLoad, chain_of, step};
use crate::error::GearError;
use crate::hang::{Ready, Solved};
use crate::vector::{Vector, norm, plus};

/// Longest step while it sinks, seconds: half as long changes settling times by less than 0.5 %.
const STEP_S: f64 = 5.0;
/// When it hardly moves any more a step may be longer: as long as nothing moves further than this in it, metres, …
const STEP_M: f64 = 0.25;
/// … and no longer than this, seconds.
const LONG_STEP_S: f64 = 100.0;
/// Slower than this it hangs, m/s.
const HANGS_M_S: f64 = 1e-4;
/// A step that finds no balance is halved so often.
const MOST_HALVINGS: u32 = 10;
/// How long it is followed.
const MOST_STEPS: u32 = 5000;

/// The ways of the hooks.
#[derive(Debug, Default)]
pub(super) struct History {
    pub(super) clipped_s: Vec<f64>,
    /// Seconds and depths of each hook from its clipping on.
    pub(super) tracks: Vec<Vec<(f64, f64)>>,
    /// Depths where they come to rest; none when they did not.
    pub(super) rest_m: Option<Vec<f64>>,
}

/// Follows a basket whose rest is known. `branches_m` is how far below its clip each hook hangs then.
pub(super) fn lower(
    ready: &Ready,
    solved: &Solved,
    plan: &SinkPlan,
    terminal_m_s: f64,
    branches_m: &[f64],
) -> Result<History, GearError> {
    let chain = chain_of(&ready.strand, &solved.ends);
    let parts = ready.options.elements_per_interval as usize;
    let mut line = Line {
        ready,
        plan,
        terminal_m_s,
        parts,
        out: History { tracks: vec![Vec::new(); branches_m.len()], ..History::default() },
        branches_m,
        nodes_m: vec![chain.ends_m[0]],
        tension_n: Vec::new(),
        stretched: vec![plan.laid == Laid::Flat; branches_m.len()],
        chain,
        now_s: 0.0,
    };
    match plan.laid {
        Laid::Flat => {
            line.out.clipped_s = vec![0.0; branches_m.len()];
            line.lay_flat();
        }
        Laid::OverTheStern { beat_s } => line.pay_out(beat_s)?,
    }
    line.sink()?;
    Ok(line.out)
}

struct Line<'a> {
    ready: &'a Ready,
    plan: &'a SinkPlan,
    /// Speed of the level main line, m/s: that of the float lines' ends until these are stretched.
    terminal_m_s: f64,
    parts: usize,
    /// The whole basket, ends where they come to rest.
    chain: Chain,
    branches_m: &'a [f64],
    /// What is in the water, from the first float.
    nodes_m: Vec<Vector>,
    tension_n: Vec<f64>,
    /// Whether a branch line is stretched, so that its weight is on the main line.
    stretched: Vec<bool>,
    now_s: f64,
    out: History,
}

impl Line<'_> {
    /// Zigzag from clip to clip, level with the ends.
    fn lay_flat(&mut self) {
        let [first, end] = self.chain.ends_m;
        let ratio = self.ready.basket.sag_ratio;
        let aside = (1.0 - ratio * ratio).max(0.0).sqrt();
        let mut nodes_m = vec![first];
        let mut sense = 1.0;
        for (interval, pieces) in self.chain.segments.chunks(self.parts).enumerate() {
            let from = nodes_m[nodes_m.len() - 1];
            let length_m: f64 = pieces.iter().map(|piece| piece.unstretched_m).sum();
            let last = (interval + 1) * self.parts == self.chain.segments.len();
            let to = if last { end } else { plus(from, length_m, [ratio, sense * aside, 0.0]) };
            let mut arc_m = 0.0;
            for piece in pieces {
                arc_m += piece.unstretched_m;
                nodes_m.push(plus(from, arc_m / length_m, plus(to, -1.0, from)));
            }
            sense = -sense;
        }
        self.nodes_m = nodes_m;
        self.tension_n = vec![0.0; self.chain.segments.len()];
        self.note();
    }

    /// Over the stern at the surface: an element at a time leaves it, loose, while the stern goes on by the span's share.
    fn pay_out(&mut self, beat_s: f64) -> Result<(), GearError> {
        let line_s_m = beat_s / self.ready.basket.clip_spacing_m;
        let [first, end] = self.chain.ends_m;
        let along = plus([end[0], end[1], 0.0], -1.0, [first[0], first[1], 0.0]);
        let mut arc_m = 0.0;
        for segment in 0..self.chain.segments.len() {
            let length_m = self.chain.segments[segment].unstretched_m;
            let steps = (length_m * line_s_m / STEP_S).ceil().max(1.0);
            let step_s = length_m * line_s_m / steps;
            self.nodes_m.push(self.nodes_m[segment]);
            self.tension_n.push(0.0);
            let (from_m, begun_s) = (arc_m, self.now_s);
            arc_m += length_m;
            let mut done = 0.0;
            while done < steps {
                done += 1.0;
                let stern_m = (from_m + length_m * done / steps) / self.ready.strand.line_m;
                let mut stern = plus(first, stern_m, along);
                stern[2] = 0.0;
                self.nodes_m[segment + 1] = stern;
                self.advance(begun_s + step_s * done, stern)?;
            }
            if self.chain_clip(segment).is_some() {
                self.out.clipped_s.push(self.now_s);
                self.note();
            }
        }
        Ok(())
    }

    /// From the last clip until it hangs.
    fn sink(&mut self) -> Result<(), GearError> {
        let end = self.chain.ends_m[1];
        let begun_s = self.now_s;
        let mut step_s: f64 = 1.0;
        for _ in 0..MOST_STEPS {
            let before = self.nodes_m.clone();
            let mut place = end;
            if self.plan.laid != Laid::Flat {
                place[2] = end[2].min(self.terminal_m_s * (self.now_s + step_s - begun_s));
            }
            let last = self.nodes_m.len() - 1;
            self.nodes_m[last] = place;
            self.advance(self.now_s + step_s, place)?;
            let moved_m = self.nodes_m.iter().zip(&before).map(|(to, from)| norm(plus(*to, -1.0, *from)));
            let speed_m_s = moved_m.fold(0.0, f64::max) / step_s;
            let down = self.stretched.iter().all(|stretched| *stretched) && place[2] >= end[2];
            if down && speed_m_s < HANGS_M_S {
                let rests = self.out.tracks.iter().map(|track| track.last().map_or(f64::NAN, |point| point.1));
                self.out.rest_m = Some(rests.collect());
                break;
            }
            let longest_s = if down { (STEP_M / speed_m_s).clamp(STEP_S, LONG_STEP_S) } else { STEP_S };
            step_s = f64::min(step_s * 1.5, longest_s);
        }
        Ok(())
    }

    /// Steps to a moment; what finds no balance goes in halves. `last` is where the last node is held.
    fn advance(&mut self, until_s: f64, last: Vector) -> Result<(), GearError> {
        let chain = self.in_water(until_s, last);
        if chain.segments.len() > 1 {
            let mut halvings = 0;
            let (mut from_s, mut step_s) = (self.now_s, until_s - self.now_s);
            while until_s - from_s > 1e-9 {
                let motion = Motion { from_m: &self.nodes_m, step_s, drag: DragOn::Nodes };
                match step(&chain, &self.ready.profile, motion, &self.tension_n) {
                    Ok((nodes_m, tension_n)) => {
                        (self.nodes_m, self.tension_n) = (nodes_m, tension_n);
                        from_s += step_s;
                        step_s = step_s.min(until_s - from_s);
                    }
                    Err(error) if halvings >= MOST_HALVINGS => return Err(error),
                    Err(_) => {
                        halvings += 1;
                        step_s *= 0.5;
                    }
                }
            }
        } else {
            self.nodes_m[0] = chain.ends_m[0];
        }
        self.now_s = until_s;
        self.note();
        Ok(())
    }

    /// The chain of what is in the water at a moment.
    fn in_water(&self, at_s: f64, last: Vector) -> Chain {
        let count = self.tension_n.len();
        let mut first = self.chain.ends_m[0];
        if self.plan.laid != Laid::Flat {
            first[2] = first[2].min(self.terminal_m_s * at_s);
        }
        let mut loads = self.chain.loads[..=count].to_vec();
        for (hook, stretched) in self.stretched.iter().enumerate() {
            let node = (hook + 1) * self.parts;
            if !stretched && node <= count {
                loads[node] = NodeLoad::default();
            }
        }
        Chain {
            ends_m: [first, last],
            segments: self.chain.segments[..count].to_vec(),
            loads,
            velocity_m_s: self.chain.velocity_m_s[..=count].to_vec(),
        }
    }

    /// Which hook is clipped at the far end of a segment.
    fn chain_clip(&self, segment: usize) -> Option<usize> {
        let node = segment + 1;
        (node.is_multiple_of(self.parts) && node / self.parts <= self.branches_m.len()).then(|| node / self.parts - 1)
    }

    /// Notes where the hooks are, and which branch lines have come stretched.
    fn note(&mut self) {
        for (hook, clipped_s) in self.out.clipped_s.iter().enumerate() {
            let hanging_m = self.nodes_m[(hook + 1) * self.parts][2] + self.branches_m[hook];
            let mut depth_m = hanging_m;
            if !self.stretched[hook] {
                let alone_m = self.plan.hook_sink_speed_m_s * (self.now_s - clipped_s);
                self.stretched[hook] = alone_m >= hanging_m;
                depth_m = alone_m.min(hanging_m);
            }
            self.out.tracks[hook].push((self.now_s, depth_m));
        }
    }
}
