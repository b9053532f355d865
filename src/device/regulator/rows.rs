//! The parameter tables of the regulators.
//!
//! Defaults and default tolerances are common practice, no published source; those of reference,
//! threshold, limit and quiescent current are the ones that hold for every kind of part.

use super::CLAMP_DROP;
use crate::device::{Fill, Parameter, Range};
use crate::quantity::Unit;

const REFERENCE: Parameter =
    Parameter::number("reference", Unit::Volt, "the volts that the feedback pin is held at")
        .fill(Fill::Absent)
        .within(0.02);
const OUTPUT_VOLTS: Parameter =
    Parameter::number("output_volts", Unit::Volt, "the output of a regulator without feedback pin")
        .fill(Fill::Absent)
        .within(0.02);
const FEEDBACK_BIAS: Parameter =
    Parameter::number("feedback_bias", Unit::Amp, "the current into the feedback pin")
        .fill(Fill::Absent)
        .range(Range::Any)
        .factor(2.0);
const ENABLE_RISING: Parameter =
    Parameter::number("enable_rising", Unit::Volt, "the enable volts at which it switches on")
        .fill(Fill::Absent)
        .within(0.10);
const ENABLE_FALLING: Parameter =
    Parameter::number("enable_falling", Unit::Volt, "the enable volts at which it switches off")
        .fill(Fill::Absent)
        .within(0.10);
const ENABLE_THRESHOLD: Parameter =
    Parameter::number("enable_threshold", Unit::Volt, "the enable volts at which it switches")
        .fill(Fill::Absent)
        .within(0.10);
const ENABLE_ACTIVE: Parameter =
    Parameter::word("enable_active", &["high", "low"], "high", "the enable level that is on");
const ENABLE_PULL: Parameter =
    Parameter::pull("enable_pull", "the pull inside at the enable pin, such as \"up 1 µA\"");
const LOCKOUT_RISING: Parameter =
    Parameter::number("lockout_rising", Unit::Volt, "the input volts at which it starts")
        .fill(Fill::Absent)
        .within(0.10);
const LOCKOUT_FALLING: Parameter =
    Parameter::number("lockout_falling", Unit::Volt, "the input volts at which it stops")
        .fill(Fill::Absent)
        .within(0.10);
const DROPOUT: Parameter = Parameter::number(
    "dropout",
    Unit::Volt,
    "what it drops at least: \"0.3 V at 500 mA\" as a resistance, \"1.2 V\" at any current",
)
.point(Unit::Amp)
.fill(Fill::Absent)
.within(0.30);
const LIMIT: Parameter = Parameter::number("limit", Unit::Amp, "the most current it gives")
    .fill(Fill::Absent)
    .within(0.25);
const MINIMUM_LOAD: Parameter = Parameter::number(
    "minimum_load",
    Unit::Amp,
    "what flows out of its output at least: with less load than that, the output floats up",
)
.fill(Fill::Absent)
.within(0.30);
const QUIESCENT: Parameter =
    Parameter::number("quiescent", Unit::Amp, "what it takes from its input for itself")
        .fill(Fill::Absent)
        .factor(2.0);
const EFFICIENCY: Parameter = Parameter::number(
    "efficiency",
    Unit::One,
    "the share of the input power that reaches the output",
)
.fill(Fill::Number(0.9))
.within(0.10);
const GOOD_ABOVE: Parameter = Parameter::number(
    "good_above",
    Unit::One,
    "the share of the set point above which the power-good pin lets go",
)
.fill(Fill::Absent)
.within(0.02);
const PASS_DIODE: Parameter =
    Parameter::flag("pass_diode", true, "whether a diode leads from output to input");

/// The table of a series regulator.
pub(super) const LDO: &[Parameter] = &[
    REFERENCE,
    OUTPUT_VOLTS,
    Parameter::word(
        "reference_to",
        &["ground", "output"],
        "ground",
        "what the reference stands against: the ground pin, or the output",
    ),
    FEEDBACK_BIAS,
    ENABLE_RISING,
    ENABLE_FALLING,
    ENABLE_THRESHOLD,
    ENABLE_ACTIVE,
    ENABLE_PULL,
    LOCKOUT_RISING,
    LOCKOUT_FALLING,
    DROPOUT,
    LIMIT,
    MINIMUM_LOAD,
    QUIESCENT,
    GOOD_ABOVE,
    PASS_DIODE,
    CLAMP_DROP,
];

/// The table of a step-down converter.
pub(super) const BUCK: &[Parameter] = &[
    REFERENCE,
    OUTPUT_VOLTS,
    FEEDBACK_BIAS,
    ENABLE_RISING,
    ENABLE_FALLING,
    ENABLE_THRESHOLD,
    ENABLE_ACTIVE,
    ENABLE_PULL,
    LOCKOUT_RISING,
    LOCKOUT_FALLING,
    DROPOUT,
    LIMIT,
    MINIMUM_LOAD,
    QUIESCENT,
    EFFICIENCY,
    GOOD_ABOVE,
    PASS_DIODE,
    CLAMP_DROP,
];

/// The table of a step-up converter.
pub(super) const BOOST: &[Parameter] = &[
    REFERENCE,
    OUTPUT_VOLTS,
    FEEDBACK_BIAS,
    ENABLE_RISING,
    ENABLE_FALLING,
    ENABLE_THRESHOLD,
    ENABLE_ACTIVE,
    ENABLE_PULL,
    LOCKOUT_RISING,
    LOCKOUT_FALLING,
    LIMIT,
    MINIMUM_LOAD,
    QUIESCENT,
    EFFICIENCY,
    GOOD_ABOVE,
    Parameter::number(
        "bypass_drop",
        Unit::Volt,
        "the drop from input to output through coil and rectifier",
    )
    .point(Unit::Amp)
    .fill(Fill::Point(0.4, 0.1))
    .within(0.10),
    CLAMP_DROP,
];
