//! What the mechanics costs: 100 baskets of 25 hooks in a current from nothing and from a start nearby, a soak of twelve
//! hours, and how the cost grows with hooks and with elements. `cargo bench -p gear`.
//!
//! Measured is the thread's own CPU time where the system tells it (Linux), so that a busy machine does not show; wall time
//! elsewhere.

#![expect(clippy::disallowed_methods, clippy::disallowed_types, reason = "a bench reads a clock")]

use std::hint::black_box;
use std::time::Instant;

use criterion::measurement::{Measurement, ValueFormatter};
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use gear::current::CurrentLevel;
use gear::parts::{BranchLine, DragAt, Float, FloatLine, MainLine, Water};
use gear::soak::{ProfileAt, SoakPlan, Stretch, follow};
use gear::{Basket, EndsHeld, HangOptions, Rig, Start, hang_basket_from};

/// CPU time of this thread.
struct CpuTime;

/// Nanoseconds of CPU this thread has had.
fn cpu_ns() -> Option<u64> {
    // The kernel brings its sum up to date when the thread steps aside.
    std::thread::yield_now();
    std::fs::read_to_string("/proc/thread-self/schedstat").ok()?.split(' ').next()?.parse().ok()
}

impl Measurement for CpuTime {
    type Intermediate = (Option<u64>, Instant);
    type Value = f64;

    fn start(&self) -> Self::Intermediate {
        (cpu_ns(), Instant::now())
    }

    fn end(&self, (cpu, wall): Self::Intermediate) -> f64 {
        match (cpu, cpu_ns()) {
            (Some(before), Some(after)) => (after - before) as f64,
            _ => wall.elapsed().as_nanos() as f64,
        }
    }

    fn add(&self, a: &f64, b: &f64) -> f64 {
        a + b
    }

    fn zero(&self) -> f64 {
        0.0
    }

    fn to_f64(&self, value: &f64) -> f64 {
        *value
    }

    fn formatter(&self) -> &dyn ValueFormatter {
        &Milliseconds
    }
}

/// Everything here takes milliseconds.
struct Milliseconds;

impl ValueFormatter for Milliseconds {
    fn scale_values(&self, _typical: f64, values: &mut [f64]) -> &'static str {
        values.iter_mut().for_each(|value| *value *= 1e-6);
        "ms CPU"
    }

    fn scale_throughputs(&self, _typical: f64, throughput: &Throughput, values: &mut [f64]) -> &'static str {
        let count = match throughput {
            Throughput::Elements(count) => *count as f64,
            _ => 1.0,
        };
        values.iter_mut().for_each(|value| *value = *value * 1e-3 / count);
        "µs CPU/hook"
    }

    fn scale_for_machines(&self, _values: &mut [f64]) -> &'static str {
        "ns"
    }
}

fn rig(hooks: u32, sag_ratio: f64) -> Rig {
    Rig {
        basket: Basket {
            hooks,
            clip_spacing_m: 45.0,
            sag_ratio,
            float_line_m: 20.0,
            branch_line_m: 25.0,
            float_takes_a_beat: true,
        },
        main_line: MainLine {
            diameter_mm: 3.6,
            density_kg_m3: 1140.0,
            axial_stiffness_n: 2000.0,
            drag_normal: 1.2,
            drag_tangential: 0.008,
        },
        branch: BranchLine { weight_in_water_n: 0.6, drag_area_m2: 0.06, drag_at: DragAt::Node },
        float_line: Some(FloatLine { diameter_mm: 6.0, drag_normal: 1.2 }),
        float: Some(Float { drag_area_m2: 0.01767, net_buoyancy_n: None }),
    }
}

/// A current that turns and weakens down to 250 m, less the drift of a row in it; `more_m_s` to the east on top.
fn sea(more_m_s: f64) -> Water {
    let level = |depth_m: f64, east_m_s: f64, north_m_s: f64| CurrentLevel {
        depth_m,
        east_m_s: east_m_s - 0.05810 + more_m_s,
        north_m_s: north_m_s - 0.17346,
    };
    Water { current: vec![level(0.0, 0.0, 0.30), level(250.0, 0.10, 0.05)], ..Water::default() }
}

/// 100 baskets whose spans and headings vary.
fn line(hooks: u32, elements_per_interval: u32, drag_at: DragAt) -> Vec<(Rig, HangOptions)> {
    (0..100)
        .map(|index| {
            let index = f64::from(index);
            let mut rig = rig(hooks, 0.70 + 0.05 * (0.7 * index).sin());
            rig.branch.drag_at = drag_at;
            let options = HangOptions {
                line_bearing_deg_true: 30.0 * (0.13 * index).sin(),
                ends: EndsHeld::Fixed,
                point_loads: true,
                elements_per_interval,
            };
            (rig, options)
        })
        .collect()
}

/// Every basket of a line, each from its own start where there is one.
fn hang(line: &[(Rig, HangOptions)], water: &Water, starts: Option<&[Start]>) -> Vec<Start> {
    line.iter()
        .enumerate()
        .map(|(index, (rig, options))| {
            match hang_basket_from(rig, water, options, starts.map(|starts| &starts[index])) {
                Ok((hung, start)) => {
                    black_box(&hung);
                    start
                }
                Err(error) => panic!("basket {index}: {error}"),
            }
        })
        .collect()
}

fn hundred_baskets(criterion: &mut Criterion<CpuTime>) {
    let mut group = criterion.benchmark_group("100 baskets of 25 hooks in a current");
    group.sample_size(20);
    group.throughput(Throughput::Elements(2500));
    for (name, drag_at) in [("", DragAt::Node), (", branch drag over its own depths", DragAt::OwnDepth)] {
        let line = line(25, 1, drag_at);
        group.bench_function(format!("cold{name}"), |bencher| bencher.iter(|| hang(&line, &sea(0.0), None)));
        let starts = hang(&line, &sea(0.0), None);
        group.bench_function(format!("warm, current changed by 1 cm/s{name}"), |bencher| {
            bencher.iter(|| hang(&line, &sea(0.01), Some(&starts)));
        });
    }
    group.finish();
}

/// The very basket that `bench/peers/time_peers.py` gives to outside programs.
fn peers_basket(criterion: &mut Criterion<CpuTime>) {
    let mut group = criterion.benchmark_group("one basket as the peers hang it");
    group.sample_size(20);
    let mut rig = rig(25, 0.60);
    rig.basket.float_line_m = 25.0;
    rig.main_line.axial_stiffness_n = 20_000.0;
    let level = |depth_m: f64, east_m_s: f64, north_m_s: f64| CurrentLevel { depth_m, east_m_s, north_m_s };
    let current = vec![level(0.0, -0.0581, 0.1265), level(250.0, 0.0419, -0.1235)];
    let water = Water { current, ..Water::default() };
    for elements_per_interval in [1, 8] {
        let options =
            HangOptions { line_bearing_deg_true: 0.0, ends: EndsHeld::Fixed, point_loads: true, elements_per_interval };
        let line = [(rig, options)];
        group.bench_function(format!("{elements_per_interval} an interval"), |bencher| {
            bencher.iter(|| hang(&line, &water, None));
        });
    }
    group.finish();
}

fn growth(criterion: &mut Criterion<CpuTime>) {
    let mut group = criterion.benchmark_group("100 baskets, growth");
    group.sample_size(10);
    for hooks in [7, 15, 25, 50] {
        let line = line(hooks, 1, DragAt::Node);
        group.throughput(Throughput::Elements(100 * u64::from(hooks)));
        group.bench_with_input(BenchmarkId::new("cold by hooks in a basket", hooks), &line, |bencher, line| {
            bencher.iter(|| hang(line, &sea(0.0), None));
        });
    }
    for elements in [1, 2, 4, 8] {
        let line = line(25, elements, DragAt::Node);
        group.throughput(Throughput::Elements(2500));
        group.bench_with_input(BenchmarkId::new("cold by elements an interval", elements), &line, |bencher, line| {
            bencher.iter(|| hang(line, &sea(0.0), None));
        });
    }
    group.finish();
}

fn soak(criterion: &mut Criterion<CpuTime>) {
    let mut group = criterion.benchmark_group("soak of 12 hours in steps of 60 s");
    group.sample_size(10);
    for baskets in [25_u32, 100, 180] {
        let plan = SoakPlan {
            stretches: vec![Stretch {
                rig: rig(25, 0.70),
                baskets,
                bearings_deg_true: vec![60.0],
                spans_m: Vec::new(),
            }],
            float_times_s: Vec::new(),
            radio_buoys: Vec::new(),
            cuts: Vec::new(),
            water: Water::default(),
            profiles: vec![ProfileAt { after_s: 0.0, basket: None, current: sea(0.0).current }],
            wind: Vec::new(),
            fixes: Vec::new(),
            duration_s: 43_200.0,
            step_s: 60.0,
            every_s: 3600.0,
            elements_per_interval: 1,
        };
        group.throughput(Throughput::Elements(25 * u64::from(baskets)));
        group.bench_with_input(BenchmarkId::new("baskets", baskets), &plan, |bencher, plan| {
            bencher.iter(|| follow(plan, |moment| drop(black_box(moment))).unwrap_or_else(|error| panic!("{error}")));
        });
    }
    group.finish();
}

criterion_group! { name = benches; config = Criterion::default().with_measurement(CpuTime); targets = peers_basket, hundred_baskets, growth, soak }
criterion_main!(benches);
