//! The sentences of a plan, for page, file and terminal alike.

use crate::outputs::shown::{decimals, number};
use crate::plan::{Answer, Lever, Plan, Prediction, Task, Value};

/// The usual cautions, once and in full.
pub const CAUTIONS: &str = "Advice is worked out from a model of the car, or common practice where it says so. Cautions: a \
    spring that is wound tighter, and a longer arm, hold more and strike farther; an arm that snaps back breaks fingers and \
    hurts eyes, and springs and arms that are bent too far snap. Wear eye protection, also those who watch; hold the car by \
    its base, never by the arm; keep faces and hands out of the arm's way while it is wound. Change string, arm, axle and \
    wheels with the spring unwound; cut away from the hand; tape ballast down so that it cannot fly. Keep the track clear \
    where the car will stop. The rules of your school or club and whoever supervises come before anything on this page.";

/// A value with its interval, in a unit that is `factor` of the SI one.
pub(super) fn with_interval(value: &Value, factor: f64, unit: &str) -> String {
    let [middle, low, high] = [value.value, value.low, value.high].map(|v| v * factor);
    let digits = decimals((high - low) / 2.0).min(3);
    let gap = if unit.is_empty() { "" } else { " " };
    format!(
        "{}{gap}{unit} ({} to {})",
        number(middle, digits),
        number(low, digits),
        number(high, digits)
    )
}

/// Metres with their interval, to the centimetre at most.
pub(super) fn metres(value: &Value) -> String {
    format!(
        "{} m ({} to {})",
        number(value.value, 2),
        number(value.low, 2),
        number(value.high, 2)
    )
}

/// A change of a value, with its sign and interval.
pub(super) fn change(value: &Value, factor: f64, unit: &str) -> String {
    let [middle, low, high] = [value.value, value.low, value.high].map(|v| v * factor);
    let digits = decimals((high - low) / 2.0).min(3);
    let signed = |v: f64| {
        let text = number(v, digits);
        if v > 0.0 { format!("+{text}") } else { text }
    };
    let gap = if unit.is_empty() { "" } else { " " };
    format!(
        "{}{gap}{unit} ({} to {})",
        signed(middle),
        signed(low),
        signed(high)
    )
}

/// A size of a lever with its unit.
pub(super) fn size(lever: Lever, value: f64) -> String {
    let (unit, step) = lever.unit();
    let digits = usize::from(step < 1.0);
    format!("{} {unit}", number(1000.0 * value, digits))
}

fn ends(lever: Lever, value: &Value) -> String {
    let digits = usize::from(lever.unit().1 < 1.0);
    let end = |v: f64| number(1000.0 * v, digits);
    format!("{} to {}", end(value.low), end(value.high))
}

/// The setting of a lever with its interval.
pub(super) fn setting(lever: Lever, value: &Value) -> String {
    format!("{} ({})", size(lever, value.value), ends(lever, value))
}

/// The task in words.
pub(super) fn task(of: &Plan) -> String {
    let on = if of.track.rises() {
        let degrees = number(of.track.slope_rad.to_degrees(), 1);
        format!(" up a track that rises by {degrees}°")
    } else {
        String::new()
    };
    let what = match of.task {
        Task::Distance { metres } => format!("stop at {} m", number(metres, 2)),
        Task::Far => "go as far as it can".to_owned(),
        Task::Fast { metres } => format!("be fast over {} m", number(metres, 2)),
        Task::NoSlip => "not spin its wheels".to_owned(),
    };
    what + &on
}

/// What a prediction says of the task.
pub(super) fn outcome(task: Task, of: &Prediction) -> String {
    match task {
        Task::Distance { .. } | Task::Far => format!("it stops at {}", metres(&of.stop_m)),
        Task::Fast { metres } => of.sprint_s.map_or_else(
            || format!("it may stand before {} m", number(metres, 2)),
            |time| {
                let over = number(metres, 2);
                format!("it takes {} over {over} m", with_interval(&time, 1.0, "s"))
            },
        ),
        Task::NoSlip => format!("the wheels spin in {}", spins(of)),
    }
}

/// In how many runs the wheels spin.
pub(super) fn spins(of: &Prediction) -> String {
    match of.spins_percent {
        0.0 => "none of 100 runs (below 1)".to_owned(),
        share if share >= 99.5 => "every run".to_owned(),
        share => format!("{share:.0} of 100 runs"),
    }
}

/// The answer in one sentence.
pub(super) fn headline(of: &Plan) -> String {
    let what = task(of);
    if of.task == Task::NoSlip && of.present.grip_demand.high <= 1.0 {
        return format!(
            "The wheels hold as they are: the strongest pull takes {} of what the tyres hold",
            with_interval(&of.present.grip_demand, 1.0, "")
        );
    }
    let Some(one) = of.first() else {
        return format!("No single change lets this car {what}");
    };
    let Answer::Set {
        size, prediction, ..
    } = &one.answer
    else {
        return what;
    };
    format!(
        "To {what}: {} of {}, and {}",
        setting(one.lever, size),
        one.lever.words(),
        outcome(of.task, prediction)
    )
}

/// What shows it.
pub(super) fn because(of: &Plan) -> Vec<String> {
    let mut out = Vec::new();
    if let Some(update) = &of.update {
        out.push(update_words(update));
    }
    let now = &of.now;
    out.push(format!(
        "as it is ({} of string), {}; its highest speed is {}",
        size(Lever::String, now.string_m),
        outcome(of.task, &of.present),
        with_interval(&of.present.peak_speed_m_per_s, 1.0, "m/s")
    ));
    out.push(pull_words(of));
    let [middle, low, high] = of
        .posterior
        .run_to_run
        .map(|share| number(100.0 * share, 1));
    out.push(format!(
        "from run to run the pull differs by {middle} % ({low} to {high}) though nothing was changed; every interval here holds \
         that for the next single run"
    ));
    let runs = of.evidence.runs.len();
    let own = of
        .evidence
        .runs
        .iter()
        .filter(|run| run.floor == of.evidence.floor)
        .count();
    let here = &of.evidence.floors[of.evidence.floor];
    out.push(if own == runs {
        format!("fitted to {runs} run{}: {here}", if runs == 1 { "" } else { "s" })
    } else {
        format!("fitted to {runs} runs, {own} of them with the wheels and floor that are planned for: {here}")
    });
    out
}

fn pull_words(of: &Plan) -> String {
    let pull = &of.pull;
    let over = with_interval(&pull.over_grip, 1.0, "");
    let words = if pull.over_grip.low > 1.0 {
        format!(
            "the strongest pull of the present arm is {over} times what the tyres hold: they spin"
        )
    } else if pull.over_grip.high <= 1.0 {
        format!(
            "the strongest pull of the present arm is {over} times what the tyres hold: they hold"
        )
    } else {
        format!(
            "the strongest pull of the present arm is {over} times what the tyres hold: whether they spin is open, and they do in {}",
            spins(&of.present)
        )
    };
    let forces = pull.given_n.as_ref().zip(pull.held_n.as_ref());
    let forces = forces.map_or_else(String::new, |(given, held)| {
        format!(
            "; at the rim it pushes with {}, and the tyres hold {}",
            with_interval(given, 1.0, "N"),
            with_interval(held, 1.0, "N")
        )
    });
    words + &forces
}

fn update_words(update: &crate::plan::Update) -> String {
    let [low, high] = update.expected_m.map(|end| number(end, 2));
    let inside = (update.expected_m[0]..=update.expected_m[1]).contains(&update.got_m.value);
    let next = update.more_string_m.map_or_else(String::new, |more| {
        let [by, low, high] = [more.value, more.low, more.high].map(|v| 1000.0 * v);
        let sense = if by < 0.0 { "less" } else { "more" };
        format!(
            "; next: {} mm {sense} string (a change of {} to {})",
            number(by.abs(), 0),
            number(low, 0),
            number(high, 0)
        )
    });
    format!(
        "the plan before asked for {} m and expected {low} to {high} m; {} got {} {}, which lies {} that{next}",
        number(update.asked_m, 2),
        update.run,
        metres(&update.got_m),
        if update.by_tape {
            "by tape"
        } else {
            "in its clip"
        },
        if inside { "within" } else { "outside" },
    )
}

/// What should make a reader careful.
pub(super) fn careful(of: &Plan) -> Vec<String> {
    let mut out = of.evidence.notes.clone();
    out.extend(strange(of));
    if of.track.rises() {
        out.push(
            "the runs are taken to have been made on the level, and the rising track to have the same wheels' grip and rolling \
             loss; where the car stops it may roll back: have someone behind it who catches it"
                .to_owned(),
        );
    }
    for run in &of.evidence.runs {
        if let Some(slip) = run.string_slip.filter(|slip| slip.low > 0.0) {
            out.push(format!(
                "in {} the string slipped on its axle by {} turns; the plan takes it that it does not: knot or glue it first",
                run.name,
                with_interval(
                    &Value { value: slip.value, low: slip.low, high: slip.high },
                    1.0,
                    ""
                )
            ));
        }
    }
    if of.evidence.runs.len() < 3 {
        out.push(
            "fewer than three runs: what differs from run to run is mostly guessed (2 %, good to a factor of four)".to_owned(),
        );
    }
    out
}

/// Numbers that do not go together with the others, one line for each kind of them.
fn strange(of: &Plan) -> Vec<String> {
    let mut kinds: Vec<(&str, Vec<&str>, f64)> = Vec::new();
    for row in &of.posterior.strange {
        let run = row.run.and_then(|run| of.evidence.runs.get(run));
        let whose = run.map_or("the sheet", |run| run.name.as_str());
        let known = kinds.iter_mut().find(|(what, ..)| *what == row.what);
        if let Some((_, of, most)) = known {
            if !of.contains(&whose) {
                of.push(whose);
            }
            *most = most.max(row.off.abs());
        } else {
            kinds.push((row.what, vec![whose], row.off.abs()));
        }
    }
    let words = |(what, of, most): (&str, Vec<&str>, f64)| {
        let of = of.join(", ");
        format!(
            "the {what} of {of} does not fit the other numbers (up to {most:.0} standard deviations off): look at it again, \
             or leave that run out"
        )
    };
    kinds.into_iter().map(words).collect()
}
