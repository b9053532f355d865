//! Random circuits: what is printed has the printed answer.

use ohmhound::circuit::Overlay;
use proptest::prelude::*;

use crate::strategies::{self, circuit, config};
use crate::{check, worked};

proptest! {
    #![proptest_config(config(150, 71))]

    #[test]
    fn linear(specs in strategies::linear()) {
        let circuit = circuit(&specs);
        check(&circuit, &worked(&circuit, &Overlay::none(), &[]));
    }
}

proptest! {
    #![proptest_config(config(60, 72))]

    #[test]
    fn approximations_of_the_classroom(specs in strategies::straight_lines()) {
        let circuit = circuit(&specs);
        check(&circuit, &worked(&circuit, &Overlay::none(), &[]));
    }
}

proptest! {
    #![proptest_config(config(60, 73))]

    #[test]
    fn exponential_junctions(specs in strategies::passive()) {
        let circuit = circuit(&specs);
        check(&circuit, &worked(&circuit, &Overlay::none(), &[]));
    }
}
