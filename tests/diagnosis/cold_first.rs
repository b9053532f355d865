//! Readings without power are tried first, and what they rule out by far is not powered up. The
//! whole case, solved in full at the value found so, must rule the same faults out.

use ohmhound::diagnosis::{Case, Fit, Verdict, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::file::{load_circuit, load_readings};

/// The squared distance beyond which a fault is ruled out by the cold readings alone.
const HOPELESS: f64 = 2000.0;

#[test]
fn what_cold_readings_rule_out_the_whole_case_rules_out() {
    let folder = format!("{}/circuits", env!("CARGO_MANIFEST_DIR"));
    let circuit = load_circuit(format!("{folder}/cold-store.toml")).value.unwrap();
    let readings =
        load_readings(format!("{folder}/cold-store.readings.toml"), &circuit).value.unwrap();
    let assembly = Assembly::new(&circuit);
    let found = diagnose(&assembly, &readings.readings, &readings.seen);
    let case = Case::new(&assembly, &readings.readings);
    // What is not powered up predicts nothing for the readings with power.
    let spared: Vec<_> = found
        .candidates
        .iter()
        .filter(|candidate| candidate.predicted.iter().any(|value| value.is_nan()))
        .collect();
    assert!(spared.len() > 100, "only {} faults were spared a power-up", spared.len());
    let mut compared = 0;
    for candidate in spared {
        let name = candidate.fault.phrase(&circuit);
        assert_eq!(candidate.verdict, Verdict::Excluded, "{name}");
        assert!(candidate.probability < 1e-9, "{name}: {}", candidate.probability);
        // A board that keeps switching or has no operating point fits nothing at all.
        let Ok(prediction) = case.predict(&candidate.overlay) else { continue };
        let fit = Fit::new(&case, &prediction).unwrap();
        assert!(fit.distance > HOPELESS, "{name}: {}", fit.distance);
        let ruled_out = candidate.ruled_out_by.unwrap();
        assert!(fit.off[ruled_out.reading].abs() > 3.0, "{name}: {:?}", fit.off);
        let (cold, whole) = (ruled_out.predicted, prediction.shown[ruled_out.reading]);
        assert!((cold - whole).abs() < 1e-3 * whole.abs(), "{name}: {cold} and {whole}");
        compared += 1;
    }
    assert!(compared > 100, "only {compared} were compared");
}
