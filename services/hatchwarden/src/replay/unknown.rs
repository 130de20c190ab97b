//! Vessels that a record names and no configuration: watched by the defaults of what is read in them.

use super::recording::{Line, What};
use crate::config::{AIR_LINE, BAND, PROBE_ACCURACY, SILENT_AFTER, STILL_AT, STILL_BUBBLES, Tuning, Vessel};
use crate::room::{MISSED, Setup, is_witness};
use std::collections::BTreeMap;
use units::{ProbeKey, Quantity, Span, Time, VesselId, VesselKind};

/// Those vessels. One whose flow is read is taken for a tumbler that is to turn, whatever the account says of it.
pub(super) fn vessels(setup: &Setup, lines: &[Line]) -> Vec<Vessel> {
    let mut kinds: BTreeMap<&VesselId, VesselKind> = BTreeMap::new();
    for (vessel, quantity) in lines.iter().flat_map(|l| l.what.vessels()) {
        let kind = kinds.entry(vessel).or_insert(VesselKind::Tank);
        if quantity.is_some_and(is_witness) {
            *kind = VesselKind::Tumbler;
        }
    }
    let patience = patience(lines);
    let unknown = kinds.into_iter().filter(|(id, _)| setup.vessel(id).is_none());
    unknown.map(|(id, kind)| by_default(id, kind, patience.get(id).copied())).collect()
}

fn by_default(id: &VesselId, kind: VesselKind, silent_after: Option<Span>) -> Vessel {
    Vessel {
        id: id.clone(),
        kind,
        host: None,
        band: Some(BAND),
        set_point: None,
        probe_accuracy: PROBE_ACCURACY,
        still_at: STILL_AT,
        still_bubbles: STILL_BUBBLES,
        silent_after,
        air_line: AIR_LINE.to_owned(),
        ph_band: None,
        level_low: None,
        litres: None,
        tuning: Tuning::default(),
        always: true,
    }
}

/// How long the probes of each vessel may be silent: by their rhythm, as live, but known from the beginning, for the whole
/// record is there.
fn patience(lines: &[Line]) -> BTreeMap<&VesselId, Span> {
    let mut times: BTreeMap<&ProbeKey, Vec<Time>> = BTreeMap::new();
    for line in lines {
        if let What::Reading { probe, .. } = &line.what {
            times.entry(probe).or_default().push(line.arrived);
        }
    }
    let mut patience = BTreeMap::new();
    for (probe, times) in times {
        let mut gaps: Vec<Span> = times.windows(2).map(|w| w[1] - w[0]).collect();
        gaps.sort_unstable();
        let Some(rhythm) = gaps.get(gaps.len() / 2) else { continue };
        let limit = Span::from_millis(rhythm.millis().saturating_mul(2 * MISSED + 1) / 2).max(SILENT_AFTER);
        let longest = patience.entry(&probe.vessel).or_insert(limit);
        *longest = limit.max(*longest);
    }
    patience
}

impl What {
    /// The vessels that a line names, and what is read there.
    fn vessels(&self) -> Vec<(&VesselId, Option<Quantity>)> {
        match self {
            What::Reading { probe, .. } => vec![(&probe.vessel, Some(probe.quantity))],
            What::Availability { vessel, .. } => vec![(vessel, None)],
            What::Event { event, .. } => event.vessel().map(|v| (v, None)).into_iter().collect(),
            What::Compare { .. } | What::WithdrawComparison { .. } | What::Acknowledge { .. } => Vec::new(),
        }
    }
}
