//! Mains: which circuits have power, and since when not.

use crate::scenario::Place;
use crate::{Fault, Scenario};
use units::Time;

#[derive(Debug, Clone)]
pub(crate) struct Power {
    circuits: Vec<Circuit>,
}

#[derive(Debug, Clone)]
struct Circuit {
    name: String,
    behind: Option<String>,
    off_since: Option<Time>,
}

/// A circuit, by its place in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct CircuitNo(usize);

impl Power {
    pub(crate) fn new(scenario: &Scenario) -> Self {
        let behind =
            |name: &str| scenario.circuits.iter().find(|c| c.name == name).and_then(|c| c.behind.clone());
        let circuit = |name: String| Circuit { behind: behind(&name), name, off_since: None };
        Self { circuits: scenario.circuit_names().into_iter().map(circuit).collect() }
    }

    /// The circuit of that name, else the mains.
    pub(crate) fn number(&self, name: &str) -> CircuitNo {
        CircuitNo(self.circuits.iter().position(|c| c.name == name).unwrap_or(0))
    }

    /// Works out what the faults leave.
    pub(crate) fn refresh(&mut self, faults: &[Fault], at: Time) {
        for circuit in &mut self.circuits {
            if faults.iter().any(|f| circuit.is_cut(f)) {
                circuit.off_since.get_or_insert(at);
            } else {
                circuit.off_since = None;
            }
        }
    }

    pub(crate) fn live_number(&self, number: usize) -> bool {
        self.live(CircuitNo(number))
    }

    pub(crate) fn live(&self, circuit: CircuitNo) -> bool {
        self.circuits[circuit.0].off_since.is_none()
    }

    /// Since when something has no mains: its circuit is off, or its plug has been pulled.
    pub(crate) fn gone_since(&self, circuit: CircuitNo, pulled: Option<Time>) -> Option<Time> {
        [self.circuits[circuit.0].off_since, pulled].into_iter().flatten().min()
    }

    /// Whether any circuit is off, so that batteries run down.
    pub(crate) fn any_off(&self) -> bool {
        self.circuits.iter().any(|c| c.off_since.is_some())
    }
}

impl Circuit {
    fn is_cut(&self, fault: &Fault) -> bool {
        match fault.place() {
            Some(Place::Circuit(name)) => name == self.name,
            Some(Place::Switch(name)) => self.behind.as_deref() == Some(name),
            _ => *fault == Fault::GridOff,
        }
    }
}

/// Whether a plug is out.
pub(crate) fn unplugged(faults: &[Fault], plug: &str) -> bool {
    faults.iter().any(|f| matches!(f, Fault::Unplugged(p) if p == plug))
}
