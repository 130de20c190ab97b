"""Reads a calendar feed with Python's icalendar and prints what it holds, by UID. Fails on anything it cannot read."""

import json
import sys
from datetime import timezone

from icalendar import Calendar

text = sys.stdin.buffer.read()
lines = text.split(b"\r\n")
assert lines[-1] == b"" and not any(b"\n" in line or b"\r" in line for line in lines), "a line ends without CRLF"
assert max(map(len, lines)) <= 75, "a line has more than 75 octets"

calendar = Calendar.from_ical(text)
assert not calendar.errors, calendar.errors


def utc(value):
    assert value.dt.tzinfo is not None and value.dt.utcoffset().total_seconds() == 0, value
    return value.dt.astimezone(timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


events = {}
for event in calendar.walk("VEVENT"):
    assert not event.errors, event.errors
    if "DTEND" in event:
        assert event["DTEND"].dt > event["DTSTART"].dt, event
    assert event["UID"] not in events, "a UID comes twice"
    events[event["UID"]] = {
        "summary": str(event["SUMMARY"]),
        "description": str(event["DESCRIPTION"]),
        "sequence": int(event["SEQUENCE"]),
        "stamp": utc(event["DTSTAMP"]),
        "modified": utc(event["LAST-MODIFIED"]),
        "starts": utc(event["DTSTART"]),
        "ends": utc(event.get("DTEND", event["DTSTART"])),
        "status": str(event["STATUS"]),
        "transparent": str(event["TRANSP"]) == "TRANSPARENT",
    }
said = {
    "name": str(calendar["NAME"]),
    "refresh_s": calendar["REFRESH-INTERVAL"].dt.total_seconds(),
    "version": str(calendar["VERSION"]),
    "method": "METHOD" in calendar,
    "events": events,
}
json.dump(said, sys.stdout)
