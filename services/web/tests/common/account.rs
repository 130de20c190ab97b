//! The account of the made-up room.

use super::t;
use ledger::{Line, Member, Passage, Side, SortedOut, Statement};
use units::{Quantity, VesselId, VesselKind};
use web::account::*;
use web::view::{EventView, Water};

pub fn event(entry: u64, text: &str) -> EventView {
    EventView {
        entry,
        withdrawable: true,
        stands: true,
        at: t("2026-11-24T18:00:00Z"),
        recorded: t("2026-11-24T18:01:00Z"),
        by: "Ada".into(),
        text: text.into(),
    }
}

pub fn of_clutch() -> AccountView {
    let line = |count, to, why: &str| Line {
        at: t("2026-11-24T18:00:00Z"),
        entry: 2,
        count,
        from: Side::Mother,
        to,
        why: why.into(),
    };
    let vessel: VesselId = "TU1".parse().unwrap();
    AccountView {
        counted: true,
        statement: Statement { came: 41, dead: 5, growing: 36, ..Statement::default() },
        lines: vec![
            line(38, Side::Vessel(vessel.clone()), "taken from the mother into TU1: 38 alive, 3 dead"),
            line(3, Side::Dead, "taken from the mother into TU1: 38 alive, 3 dead"),
        ],
        living: vec![PlaceView { vessel, count: Some(36), since: Some(t("2026-11-24T18:00:00Z")) }],
        members: Vec::new(),
        path: Some("taken early, into a tumbler".into()),
        ended: None,
        usual: Some(UsualView { clutches: 4, kept_percent: 82.0 }),
    }
}

fn living(clutch: &str, held: bool, count: Option<u32>) -> LivingView {
    LivingView {
        clutch: clutch.parse().unwrap(),
        fish: "Astatotilapia burtoni".into(),
        mother: Some("bur-03".parse().unwrap()),
        held,
        members: Vec::new(),
        count,
        since: Some(t("2026-11-24T18:00:00Z")),
    }
}

fn row(vessel: &str, kind: VesselKind, litres: f64, living: Vec<LivingView>) -> VesselRow {
    let counted: u32 = living.iter().filter_map(|l| l.count).sum();
    VesselRow {
        vessel: vessel.parse().unwrap(),
        kind,
        host: (kind == VesselKind::Tumbler).then(|| "V1".parse().unwrap()),
        litres: Some(litres),
        per_litre: Some(f64::from(counted) / litres),
        living,
        crowded_above: 5.0,
        quarantine: (vessel == "Q1").then(|| t("2026-12-24T12:00:00Z")),
    }
}

pub fn tanks() -> TanksPage {
    let mut group = living("M2", false, Some(939));
    group.members = [("C04", 541), ("C09", 398)]
        .map(|(c, count)| Member { clutch: c.parse().unwrap(), count, at: t("2026-11-20T18:00:00Z") })
        .to_vec();
    TanksPage {
        vessels: vec![
            row("V1", VesselKind::Tank, 90.0, vec![]),
            row("N2", VesselKind::Tank, 240.0, vec![living("C12", true, None), living("C13", true, None)]),
            row("TU1", VesselKind::Tumbler, 1.0, vec![living("C11", false, Some(3))]),
            row("TU2", VesselKind::Tumbler, 1.0, vec![]),
            row("G4", VesselKind::Tank, 120.0, vec![group]),
            row("G5", VesselKind::Tank, 120.0, vec![]),
            row("Q1", VesselKind::Tank, 40.0, vec![]),
        ],
        needs: vec![NeedView {
            clutch: "C11".parse().unwrap(),
            fish: "Astatotilapia burtoni".into(),
            vessel: Some("TU1".parse().unwrap()),
            count: Some(41),
            earliest: t("2026-11-27T06:00:00Z"),
            likeliest: t("2026-11-28T06:00:00Z"),
        }],
        equipment: vec![EquipmentView {
            name: "P1".into(),
            kind: "air pump".into(),
            vessel: None,
            since: t("2025-11-01T12:00:00Z"),
            due: Some(t("2026-11-01T12:00:00Z")),
        }],
        of_room: vec![event(8, "drill: P1 stopped")],
    }
}

/// Three poor ones that have ended, and one that goes on.
fn passages() -> Vec<PassageView> {
    let one = |clutch: &str, came, lost, ended: bool| PassageView {
        clutch: clutch.parse().unwrap(),
        fish: "Astatotilapia burtoni".into(),
        stay: Passage {
            from: t("2026-11-01T12:00:00Z"),
            until: ended.then(|| t("2026-11-10T12:00:00Z")),
            came,
            lost,
        },
    };
    vec![
        one("C14", 40, 0, false),
        one("C12", 40, 30, true),
        one("C07", 29, 20, true),
        one("C01", 38, 12, true),
    ]
}

pub fn vessel(id: &VesselId) -> Option<VesselPage> {
    let row = tanks().vessels.into_iter().find(|v| v.vessel == *id)?;
    Some(VesselPage {
        row,
        water: Water { celsius: Some(26.8), at: None, per_hour: None, band: None },
        probes: vec![units::ProbeKey::new(id.clone(), Quantity::Temperature)],
        hanging: Vec::new(),
        contacts: vec![ContactView {
            vessel: "G5".parse().unwrap(),
            at: t("2026-11-24T12:00:00Z"),
            from: id.clone(),
            by: "net-Q1".into(),
        }],
        fed_twice: vec![(event(5, "fed"), event(6, "fed"))],
        passages: passages(),
        care: vec![event(7, "40 % of G4 changed")],
    })
}

pub fn mother() -> MotherView {
    MotherView {
        mother: "bur-03".parse().unwrap(),
        fish: "Astatotilapia burtoni".into(),
        holds: vec![
            HoldView {
                clutch: "C12".parse().unwrap(),
                spawned: t("2026-11-20T12:00:00Z"),
                path: None,
                left: None,
                how: None,
                days: 5.2,
                count: None,
                sorted_out: Vec::new(),
            },
            HoldView {
                clutch: "C01".parse().unwrap(),
                spawned: t("2026-11-01T12:00:00Z"),
                path: Some("taken late, as fry".into()),
                left: Some(t("2026-11-12T12:00:00Z")),
                how: Some("spat and saved"),
                days: 11.0,
                count: Some(47),
                sorted_out: vec![SortedOut { of: "M1".parse().unwrap(), runts: 4, faulty: 0 }],
            },
        ],
        empty_since: None,
        holds_in_a_year: 2,
        rests: vec![8.0],
        notes: vec![event(9, "thin")],
    }
}
