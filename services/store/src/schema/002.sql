-- Refusals once more by the quarter of an hour in which they arrived, so that a night can be looked at alone: the clocks of
-- every zone stand whole quarters of an hour off UTC.
CREATE TABLE refusal_quarters (
    quarter INTEGER NOT NULL,           -- since 1970
    place   TEXT    NOT NULL,
    reason  TEXT    NOT NULL,
    count   INTEGER NOT NULL,
    PRIMARY KEY (quarter, place, reason)
) STRICT, WITHOUT ROWID;
