//! Who is called, as the page shows it.

use super::Room;
use crate::config::{Call, Hours};
use web::calls::{CallView, CallsView};

impl Room {
    /// Calls, drills and tries.
    pub fn calls_view(&self) -> CallsView {
        CallsView {
            calls: self.setup.calls.iter().map(|call| self.call_view(call)).collect(),
            sirens: self.setup.sirens.iter().map(|s| s.topic.clone()).collect(),
            drills: self.calls.drill_views(),
            next_drill: self.next_drill(),
            tries: self.calls.try_views(),
            links: self.setup.address.is_some(),
        }
    }

    fn call_view(&self, call: &Call) -> CallView {
        CallView {
            name: call.name.clone(),
            person: call.person.clone(),
            way: call.way.clone(),
            priority: call.priority,
            hours: call.hours.map(text),
            after: call.after,
            failing: self.calls.failing.get(&call.way).cloned(),
        }
    }
}

fn text(hours: Hours) -> String {
    let clock = |minute: u32| format!("{:02}:{:02}", minute / 60, minute % 60);
    format!("{} to {}", clock(hours.from), clock(hours.to))
}
