//! Playing the score without being late: which tone now, which is passed over, how long to sleep. Pure: time comes in.

use quantity::UtcInstant;
use voyage::beat::{Clip, Laying};
use voyage::score::Tone;

/// A tone that is later than this is passed over: late tones come in bunches and put a man out of step. A third of the
/// quickest beat that men can clip to (own judgement).
pub(crate) const TOO_LATE_S: f64 = 0.1;
/// The line is looked at again after so long, so that a stop is heeded before the next tone.
const LOOK_S: f64 = 0.01;

/// What to do now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Step {
    /// Sound this.
    Sound(Tone),
    /// Sleep so long, seconds.
    Sleep(f64),
}

/// Who plays: remembers what has sounded.
#[derive(Debug, Default)]
pub(crate) struct Player {
    /// Everything up to here has sounded or was passed over.
    played: Option<UtcInstant>,
    last: Option<(Clip, UtcInstant)>,
    /// Tones that came too late and were passed over.
    pub(crate) passed_over: u64,
}

impl Player {
    /// Nothing before this moment is sounded any more.
    pub(crate) fn skip_to(&mut self, now: UtcInstant) {
        self.played = Some(now);
    }

    /// The next thing to do at `now`.
    pub(crate) fn step(&mut self, line: &Laying, now: UtcInstant) -> Step {
        // After a step backwards of the clock the score begins at now again.
        let from =
            self.played.filter(|played| *played <= now.plus_seconds(1.0)).unwrap_or(now.plus_seconds(-TOO_LATE_S));
        let from = from.max(now.plus_seconds(-60.0));
        let tones = line.tones(from, now.plus_seconds(LOOK_S));
        for tone in tones {
            let wait_s = tone.at.seconds_since(now);
            if wait_s > 0.0 {
                return Step::Sleep(wait_s);
            }
            self.played = Some(tone.at);
            // An anchor that puts the thing just sounded a little later does not sound it again.
            let again = self.last.is_some_and(|(clip, at)| clip == tone.clip && tone.at.seconds_since(at) < TOO_LATE_S);
            if again {
                continue;
            }
            if -wait_s > TOO_LATE_S {
                self.passed_over += 1;
                continue;
            }
            self.last = Some((tone.clip, tone.at));
            return Step::Sound(tone);
        }
        self.played = Some(from.max(now));
        Step::Sleep(LOOK_S)
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;
    use voyage::{Logged, fold, read_event};

    use super::*;

    fn at(seconds_s: f64) -> UtcInstant {
        "2031-03-02T05:00:00Z".parse::<UtcInstant>().unwrap().plus_seconds(seconds_s)
    }

    /// A line of 25 hooks a basket and a beat of 0.3 s from second 0; more events after it.
    fn line(more: &[(f64, &str, serde_json::Value)], now_s: f64) -> Laying {
        let beat = json!({"basket": 1, "position": 0, "at": at(0.0), "beat_s": 0.3, "hooks_per_basket": 25,
            "float_takes_a_beat": true});
        let first = [(-2.0, "setting_started", json!({})), (0.0, "beat", beat)];
        let logged: Vec<Logged> = (1_i64..)
            .zip(first.iter().chain(more))
            .map(|(seq, (t, kind, data))| {
                let event = json!({"id": format!("e-{seq}"), "device": "d", "device_seq": seq, "kind": kind,
                    "version": 1, "happened_at": at(*t), "happened_basis": "instrument", "boot": null,
                    "monotonic_ms": null, "person": null, "set": null, "haul": null, "data": data});
                let event = read_event(event.to_string().as_bytes()).unwrap();
                Logged { ship_seq: seq, event }
            })
            .collect();
        fold(&logged, Some(at(now_s))).laying.unwrap()
    }

    /// Plays up to a moment; each sleep lasts as long as asked and a little more. The tones with when they began.
    fn played(
        player: &mut Player,
        line: &Laying,
        from_s: f64,
        to_s: f64,
        oversleep_s: impl Fn(usize) -> f64,
    ) -> Vec<(Tone, f64)> {
        let (mut now_s, mut steps, mut tones) = (from_s, 0, Vec::new());
        while now_s < to_s {
            steps += 1;
            match player.step(line, at(now_s)) {
                Step::Sound(tone) => tones.push((tone, at(now_s).seconds_since(tone.at))),
                Step::Sleep(wait_s) => now_s += wait_s.min(0.02) + oversleep_s(steps),
            }
        }
        tones
    }

    #[test]
    fn verif_a_thousand_beats_at_three_tenths_of_a_second_and_none_late() {
        let line = line(&[], 0.0);
        let mut player = Player::default();
        player.skip_to(at(-1.0));
        // Sleeps that last up to 9 ms too long, as on a busy computer.
        let tones = played(&mut player, &line, -1.0, 300.0 + 0.05, |step| 0.001 * ((step * 7) % 10) as f64);
        assert_eq!(tones.len(), 1_001);
        assert_eq!(player.passed_over, 0);
        for (index, (tone, late_s)) in tones.iter().enumerate() {
            let due_s = 0.3 * index as f64;
            assert!((tone.at.seconds_since(at(0.0)) - due_s).abs() < 1e-5, "none is left out, none sounds twice");
            // Later than its moment by no more than one sleep was too long.
            assert!((0.0..0.0091).contains(late_s), "tone {index} {late_s} s late");
        }
    }

    #[test]
    fn verif_after_a_stall_late_tones_are_passed_over_and_never_bunched() {
        let line = line(&[], 0.0);
        let mut player = Player::default();
        player.skip_to(at(-1.0));
        let before = played(&mut player, &line, -1.0, 3.1, |_| 0.0);
        assert_eq!(before.len(), 11);
        // Away from 3.1 s to 6.14 s: ten tones were due, the last at 6.0 s is 0.14 s old.
        let after = played(&mut player, &line, 6.14, 7.0, |_| 0.0);
        assert_eq!(player.passed_over, 10);
        let times: Vec<f64> = after.iter().map(|(tone, _)| tone.at.seconds_since(at(0.0))).collect();
        assert_eq!(times.len(), 3);
        assert!((times[0] - 6.3).abs() < 1e-5 && after.iter().all(|(_, late_s)| *late_s < 1e-5), "{times:?}");
    }

    #[test]
    fn verif_a_stop_is_heeded_and_a_new_anchor_sounds_nothing_twice() {
        let mut player = Player::default();
        player.skip_to(at(-1.0));
        let running = line(&[], 0.0);
        assert_eq!(played(&mut player, &running, -1.0, 1.0, |_| 0.0).len(), 4);
        let stopped = line(&[(1.0, "stop_started", json!({}))], 1.0);
        assert!(played(&mut player, &stopped, 1.0, 20.0, |_| 0.0).is_empty());
        let again = line(&[(1.0, "stop_started", json!({})), (20.0, "stop_ended", json!({}))], 20.0);
        let tones = played(&mut player, &again, 20.0, 20.25, |_| 0.0);
        assert_eq!((tones.len(), tones[0].0.clip.position), (1, 4));
        // A device that put its anchor 40 ms later at the hook that has just sounded.
        let anchored = json!({"basket": 1, "position": 4, "at": at(20.24), "beat_s": 0.3, "hooks_per_basket": 25,
            "float_takes_a_beat": true});
        let more = [(1.0, "stop_started", json!({})), (20.0, "stop_ended", json!({})), (20.25, "beat", anchored)];
        let tones = played(&mut player, &line(&more, 20.25), 20.25, 20.6, |_| 0.0);
        let positions: Vec<i64> = tones.iter().map(|(tone, _)| tone.clip.position).collect();
        assert_eq!(positions, [5]);
    }
}
