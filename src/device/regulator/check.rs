//! Rules between the parameters and the pins of a regulator.

use super::{Part, Problem};

/// One way to say the set point, and the pin that goes with it.
pub(super) fn set_point(kind: &str, part: &Part) -> Result<(), Problem> {
    let name = &part.name;
    let feedback = part.pin("feedback").is_some();
    match (part.param("reference").is_some(), part.param("output_volts").is_some()) {
        (true, true) => {
            let message = format!("`{name}` has both a `reference` and `output_volts`");
            Err(Problem::new("output_volts", message)
                .help("`reference` is held at the feedback pin, `output_volts` at the output"))
        }
        (false, false) => {
            let wanted = if feedback { "reference" } else { "output_volts" };
            let message = format!("{kind} `{name}` has no `{wanted}`");
            Err(Problem::new(wanted, message)
                .help("give `reference` with a pin `feedback`, or `output_volts` without one"))
        }
        (true, false) if !feedback => {
            let message = format!("`{name}` has a `reference` but no pin `feedback`");
            Err(Problem::new("reference", message)
                .help("name the net of the feedback pin, or give `output_volts` instead"))
        }
        (false, true) if feedback => {
            let message = format!("`{name}` has `output_volts` and a pin `feedback`");
            Err(Problem::new("output_volts", message)
                .help("give the volts that the feedback pin is held at as `reference`"))
        }
        _ => Ok(()),
    }
}

/// The pins that the parameters need.
pub(super) fn pins(kind: &str, part: &Part) -> Result<(), Problem> {
    let name = &part.name;
    let given = |key: &str| part.is_given(key);
    let ground = part.pin("ground").is_some();
    if !ground && part.word("reference_to") != Some("output") {
        let message = format!("{kind} `{name}` has no pin `ground`");
        return Err(Problem::new("pins", message)
            .help("only a regulator with `reference_to = \"output\"` may lack it"));
    }
    let enable = ["enable_threshold", "enable_rising", "enable_falling", "enable_active"];
    let enable = enable.into_iter().chain(["enable_pull"]).find(|key| given(key));
    if let (Some(key), None) = (enable, part.pin("enable")) {
        let message = format!("`{name}` has `{key}` but no pin `enable`");
        return Err(Problem::new(key, message).help("name the net of the enable pin"));
    }
    if given("good_above") && part.pin("power_good").is_none() {
        let message = format!("`{name}` has `good_above` but no pin `power_good`");
        return Err(Problem::new("good_above", message).help("name the net of the pin"));
    }
    if given("feedback_bias") && part.pin("feedback").is_none() {
        let message = format!("`{name}` has a `feedback_bias` but no pin `feedback`");
        return Err(Problem::new("feedback_bias", message).help("name the net of the pin"));
    }
    let needs = ["enable", "power_good"].into_iter().find(|pin| part.pin(pin).is_some());
    if let (false, Some(pin)) = (ground, needs) {
        let message = format!("`{name}` has a pin `{pin}` but no pin `ground`");
        return Err(Problem::new("pins", message)
            .help(format!("`{pin}` is counted from the ground pin; name its net")));
    }
    if !ground && given("lockout_rising") {
        let message = format!("`{name}` has `lockout_rising` but no pin `ground`");
        return Err(Problem::new("lockout_rising", message)
            .help("the lockout is counted from the ground pin; name its net"));
    }
    Ok(())
}

/// Thresholds come once, and the falling one is not above the rising one.
pub(super) fn thresholds(part: &Part) -> Result<(), Problem> {
    let name = &part.name;
    let split =
        ["enable_rising", "enable_falling"].into_iter().find(|key| part.param(key).is_some());
    if let (Some(key), true) = (split, part.param("enable_threshold").is_some()) {
        let message = format!("`{name}` has both `{key}` and `enable_threshold`");
        return Err(Problem::new("enable_threshold", message).help(
            "give `enable_rising` and `enable_falling`, or one `enable_threshold` for both",
        ));
    }
    for [rising, falling] in
        [["enable_rising", "enable_falling"], ["lockout_rising", "lockout_falling"]]
    {
        match (part.nominal(rising), part.nominal(falling)) {
            (None, Some(_)) => {
                let message = format!("`{name}` has `{falling}` but no `{rising}`");
                return Err(Problem::new(falling, message).help(format!("give `{rising}` as well")));
            }
            (Some(up), Some(down)) if down > up => {
                let message = format!("`{name}` has its `{falling}` above its `{rising}`");
                return Err(Problem::new(falling, message)
                    .help("what switches on at one threshold switches off at a lower one"));
            }
            _ => {}
        }
    }
    Ok(())
}

/// Values that no regulator has.
pub(super) fn numbers(part: &Part) -> Result<(), Problem> {
    let name = &part.name;
    for (key, what) in [("efficiency", "more power out than in"), ("good_above", "never good")] {
        if let Some(value) = part.nominal(key).filter(|value| *value > 1.0) {
            let message = format!("`{name}` has `{key}` = {value}: {what}");
            return Err(Problem::new(key, message).help("give a share of one, such as 0.9"));
        }
    }
    for key in ["dropout", "bypass_drop"] {
        if part.point(key).and_then(|point| point.at).is_some_and(|amps| amps <= 0.0) {
            let message = format!("`{name}` has its `{key}` at no current");
            return Err(Problem::new(key, message)
                .help("write the current at which the datasheet states it"));
        }
    }
    if let (Some(least), Some(most)) = (part.nominal("minimum_load"), part.nominal("limit"))
        && least >= most
    {
        let message = format!("`{name}` has a `minimum_load` that is not below its `limit`");
        return Err(Problem::new("minimum_load", message));
    }
    Ok(())
}
