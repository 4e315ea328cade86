//! The beat as it is asked for, and orders to it.
//!
//! An order becomes one event `beat` of the ship's own device, a whole anchor at the thing clipped last, so that the
//! count goes on. The order's id is the event's id: sent again it finds that event and is answered the same, after a
//! restart too. What cannot be done is refused with a word on what to do first; a refusal is not kept.

use std::sync::{Arc, PoisonError};

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, Response, StatusCode};
use journal::Answer;
use quantity::UtcInstant;
use serde_json::{Value, json};
use voyage::beat::{BeatAnchor, Clip, Laying};
use voyage::score::TICK_S;

use super::keeper::{line_now, view_now};
use super::view::{AnchorView, BeatOrder, BeatOrdered, BeatView, Doing};
use crate::app::{App, blocking};
use crate::asked;
use crate::gate::Caller;
use crate::problem::{Problem, ProblemCode, json as as_json};

/// From clip to clip: quicker than any hand, slower than any line (own judgement).
const BEAT_S: std::ops::RangeInclusive<f64> = 0.2..=600.0;
/// A step of slower or faster, s.
const BY_S: std::ops::RangeInclusive<f64> = 0.01..=60.0;
/// How much slower or faster where it is not said, s.
const USUAL_BY_S: f64 = 0.1;
/// Ticks before a start where it is not said.
const USUAL_COUNT_IN: i64 = 3;
/// The most ticks that are counted in.
const MOST_COUNT_IN: i64 = 8;
/// The largest number of a basket, and of hooks in one.
const MOST: (i64, i64) = (20_000, 1_000);

/// The beat of the line that is being laid
///
/// What was clipped last and what comes next, stops and silences that nobody has answered for, and whether the ship's
/// own computer sounds it. The live stream tells the same as `beat`.
#[utoipa::path(get, path = "/api/beat", tag = "events",
    responses((status = 200, description = "the beat; `set` is null while no line is laid", body = BeatView),
        (status = "4XX", body = Problem, description = "not paired")))]
pub(crate) async fn beat(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let view = blocking(&app, |app| line_now(app).map(|line| view_now(app, line.as_deref()))).await?;
    Ok(as_json(StatusCode::OK, &view.map_err(|_| Problem::unreadable())?))
}

/// Start the beat, count it in, make it slower or faster
///
/// The ship keeps an event `beat` of its own with a whole anchor; the order's id is its id. The same order again is
/// answered the same and changes nothing. A device without a link keeps such an event itself and posts it later.
#[utoipa::path(post, path = "/api/beat", tag = "events", request_body = BeatOrder,
    responses((status = 200, description = "the anchor that was set", body = BeatOrdered),
        (status = "4XX", body = Problem, description = "nothing was changed"),
        (status = 503, body = Problem, description = "the journal has stopped; nothing was changed")))]
pub(crate) async fn order(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    let role = caller.role()?;
    if !role.may_send("beat") {
        let text = format!("a device in the role {} may not change the beat; ask the wheelhouse.", role.word());
        return Err(Problem::forbidden(ProblemCode::NotInThisRole, text));
    }
    let order: BeatOrder = asked::read(&app, &headers, body).await?;
    let by = caller.device.map(|device| device.device);
    let ordered = blocking(&app, move |app| carry_out(app, &order, by.as_deref())).await??;
    Ok(as_json(StatusCode::OK, &ordered))
}

fn carry_out(app: &App, order: &BeatOrder, by: Option<&str>) -> Result<BeatOrdered, Problem> {
    let id = sound(order)?;
    let _alone = app.beat.ordering.lock().unwrap_or_else(PoisonError::into_inner);
    let unreadable = |_| Problem::unreadable();
    if let Some((ship_seq, event)) = app.ship.event_of(&id).map_err(unreadable)? {
        return given_before(order, &id, ship_seq, &event);
    }
    let line = line_now(app).map_err(unreadable)?;
    let line =
        line.ok_or_else(|| Problem::not_now("no line is being set; start setting first. Nothing was changed."))?;
    let now = app.ship.clock.now().0;
    let (anchor, hooks) = anchor_for(order, &line, now)?;
    let view = AnchorView::of(&anchor, hooks);
    let data = json!({
        "basket": view.basket, "position": view.position, "at": view.at_utc, "beat_s": view.beat_s,
        "hooks_per_basket": hooks, "float_takes_a_beat": view.float_takes_a_beat, "count_in": view.count_in,
        "order": order, "ordered_by": by,
    });
    let event = app.own_event_of("beat", &data, now, Some(&line.set), Some(&id));
    let stopped = |text: String| Problem::new(StatusCode::SERVICE_UNAVAILABLE, ProblemCode::JournalStopped, text);
    let answers = app.ship.keep(vec![event]).map_err(|error| stopped(error.to_string()))?;
    match answers.into_iter().next() {
        Some(Answer::Kept { ship_seq } | Answer::Known { ship_seq }) => Ok(BeatOrdered { id, ship_seq, anchor: view }),
        Some(Answer::Conflict { .. }) => Err(id_used()),
        Some(Answer::Refused { reason, .. }) => Err(Problem::not_understood(format!("{reason}; nothing was changed."))),
        None => Err(Problem::unreadable()),
    }
}

/// The order's id in its one spelling, when its numbers are ones that a beat can have.
fn sound(order: &BeatOrder) -> Result<String, Problem> {
    let wrong = |text: String| Problem::not_understood(format!("{text}; nothing was changed."));
    let id = uuid::Uuid::parse_str(&order.id).map_err(|_| wrong("id is no UUID".to_owned()))?;
    let within = |name: &str, value: Option<f64>, range: &std::ops::RangeInclusive<f64>| match value {
        Some(value) if !range.contains(&value) => {
            Err(wrong(format!("{name} is {value} s; it should be {} to {} s", range.start(), range.end())))
        }
        _ => Ok(()),
    };
    within("beat_s", order.beat_s, &BEAT_S)?;
    within("by_s", order.by_s, &BY_S)?;
    let whole = |name: &str, value: Option<i64>, least: i64, most: i64| match value {
        Some(value) if !(least..=most).contains(&value) => {
            Err(wrong(format!("{name} is {value}; it should be {least} to {most}")))
        }
        _ => Ok(()),
    };
    whole("count_in", order.count_in, 0, MOST_COUNT_IN)?;
    whole("basket", order.basket, 1, MOST.0)?;
    whole("hooks_per_basket", order.hooks_per_basket, 1, MOST.1)?;
    if order.doing == Doing::Set && order.beat_s.is_none() {
        return Err(wrong("set needs beat_s, the seconds from clip to clip".to_owned()));
    }
    Ok(id.hyphenated().to_string())
}

fn id_used() -> Problem {
    let text = "this id was used before for something else; nothing was changed. Make a fresh id.";
    Problem::new(StatusCode::CONFLICT, ProblemCode::IdUsed, text)
}

/// The answer that an order had, from the event that it became.
fn given_before(order: &BeatOrder, id: &str, ship_seq: i64, event: &Value) -> Result<BeatOrdered, Problem> {
    let data = &event["data"];
    if serde_json::to_value(order).ok().as_ref() != Some(&data["order"]) {
        return Err(id_used());
    }
    let read = || {
        Some(AnchorView {
            basket: data["basket"].as_i64()?,
            position: data["position"].as_i64()?,
            at_utc: data["at"].as_str()?.parse().ok()?,
            beat_s: data["beat_s"].as_f64()?,
            hooks_per_basket: data["hooks_per_basket"].as_i64()?,
            float_takes_a_beat: data["float_takes_a_beat"].as_bool()?,
            count_in: data["count_in"].as_i64()?,
        })
    };
    let anchor = read().ok_or_else(id_used)?;
    Ok(BeatOrdered { id: id.to_owned(), ship_seq, anchor })
}

/// Whole thousandths: what a screen shows is what is kept.
fn rounded(beat_s: f64) -> f64 {
    (beat_s * 1_000.0).round() / 1_000.0
}

/// The anchor that an order sets, and the hooks of a basket from there on.
fn anchor_for(order: &BeatOrder, line: &Laying, now: UtcInstant) -> Result<(BeatAnchor, i64), Problem> {
    let running = line.anchor_after(now).or_else(|| line.due_at(now).map(|due| due.anchor));
    match order.doing {
        Doing::Start => start(order, line, now, running),
        Doing::CountIn => {
            let running = running.ok_or_else(no_beat)?;
            let clip = line.due_at(now).map_or(running.clip, |due| due.next);
            Ok(counted_in(order, line, now, BeatAnchor { clip, ..running }))
        }
        Doing::Slower | Doing::Faster | Doing::Set => {
            let running = running.ok_or_else(no_beat)?;
            if line.stopped().is_some() {
                let text = "setting is stopped and the beat stands; go on first, then change it. Nothing was changed.";
                return Err(Problem::not_now(text));
            }
            let by_s = order.by_s.unwrap_or(USUAL_BY_S);
            let beat_s = rounded(match order.doing {
                Doing::Slower => running.beat_s + by_s,
                Doing::Faster => running.beat_s - by_s,
                _ => order.beat_s.unwrap_or(running.beat_s),
            });
            if !BEAT_S.contains(&beat_s) {
                let (least, most) = (BEAT_S.start(), BEAT_S.end());
                let text = format!("the beat would be {beat_s} s; it can be {least} to {most} s. Nothing was changed.");
                return Err(Problem::not_now(text));
            }
            Ok(paced(line, now, running, beat_s))
        }
    }
}

fn no_beat() -> Problem {
    Problem::not_now("no beat is running; start it at a float first. Nothing was changed.")
}

/// The hooks that an anchor states: of its own basket at a float, of the next one inside a basket.
fn hooks_stated(line: &Laying, clip: Clip) -> i64 {
    line.hooks_in(if clip.position == 0 { clip.basket } else { clip.basket + 1 })
}

fn start(
    order: &BeatOrder,
    line: &Laying,
    now: UtcInstant,
    running: Option<BeatAnchor>,
) -> Result<(BeatAnchor, i64), Problem> {
    let basket = order.basket.unwrap_or_else(|| line.nearest_place(now));
    let beat_s = order.beat_s.or(running.map(|anchor| anchor.beat_s)).ok_or_else(|| {
        Problem::not_understood("start needs beat_s, the seconds from clip to clip; nothing was changed.")
    })?;
    let hooks = order.hooks_per_basket.unwrap_or_else(|| line.hooks_in(basket));
    if hooks < 1 {
        let text = "nobody said how many hooks a basket holds; say hooks_per_basket. Nothing was changed.";
        return Err(Problem::not_understood(text));
    }
    let takes = order.float_takes_a_beat.or(running.map(|anchor| anchor.float_takes_a_beat));
    let anchor = BeatAnchor {
        clip: Clip { basket, position: 0 },
        at: now,
        beat_s: rounded(beat_s),
        float_takes_a_beat: takes.unwrap_or_else(|| line.float_takes_a_beat(basket)),
        count_in: 0,
    };
    let (anchor, _) = counted_in(order, line, now, anchor);
    Ok((anchor, hooks))
}

/// An anchor so many ticks from now.
fn counted_in(order: &BeatOrder, line: &Laying, now: UtcInstant, anchor: BeatAnchor) -> (BeatAnchor, i64) {
    let count_in = order.count_in.unwrap_or(USUAL_COUNT_IN);
    #[expect(clippy::cast_precision_loss, reason = "a few ticks")]
    let ticks = count_in as f64;
    // A moment more, so that the first tick is still to come when the horn hears of it.
    let lead_s = if count_in > 0 { 0.25 } else { 0.0 };
    let at = now.plus_seconds(ticks * anchor.beat_s.min(TICK_S) + lead_s);
    (BeatAnchor { at, count_in, ..anchor }, hooks_stated(line, anchor.clip))
}

/// The same thing clipped last, another time from clip to clip.
fn paced(line: &Laying, now: UtcInstant, running: BeatAnchor, beat_s: f64) -> (BeatAnchor, i64) {
    let Some(due) = line.due_at(now).filter(|_| running.at <= now) else {
        // It is still being counted in.
        return (BeatAnchor { beat_s, ..running }, hooks_stated(line, running.clip));
    };
    let passed_s = due.interval_s - due.next_in_s;
    let interval_s = due.interval_s * beat_s / running.beat_s;
    // A much quicker beat must not put hooks into the past: the next one keeps its share of the way.
    let at =
        if passed_s < interval_s { due.last_at } else { now.plus_seconds(-interval_s * passed_s / due.interval_s) };
    (BeatAnchor { clip: due.last, at, beat_s, count_in: 0, ..running }, hooks_stated(line, due.last))
}
