# ruff: noqa: S608 - the texts are put together from our own names only; what is asked is always bound
"""What is made of the rows of many records: the newest of a site, what still holds, sites, recall, tallies.

Portable SQL, run by every engine after rows were added or removed. ``touched`` holds the sites whose records
changed; only their summaries are made anew, and the tallies over all sites.
"""

from __future__ import annotations

from typing import Final

from commission.desk import returns
from commission.desk.tables_of_all import HELD, SITE, TALLY

TOUCHED: Final = "touched"
_NEWEST: Final = (
    "coalesce(r.started_at, -1) DESC, r.signed DESC, coalesce(r.answered_at, -1) DESC, "
    "r.root DESC, r.path DESC"
)
"""Order in which the first is the newest record of a site."""
_IN_TOUCHED: Final = "site IN (SELECT site FROM touched)"

LATEST: Final = (
    f"UPDATE record SET latest = 0 WHERE latest = 1 AND {_IN_TOUCHED}",
    f"""
    UPDATE record SET latest = 1 WHERE record IN (
        SELECT n.record FROM (
            SELECT r.record, row_number() OVER (PARTITION BY r.site ORDER BY {_NEWEST}) AS place
            FROM record r WHERE r.state <> 'no record' AND r.{_IN_TOUCHED}
        ) n WHERE n.place = 1
    )""",
)

ALIVE: Final = (
    f"""
    UPDATE concern SET alive = CASE
        WHEN concern.kind = 'returned' THEN CASE WHEN {returns.ALIVE} THEN 1 ELSE 0 END
        WHEN EXISTS (SELECT 1 FROM record r WHERE r.record = concern.record AND r.latest = 1) THEN 1
        WHEN concern.kind IN ('stops work', 'reading failed', 'reading accepted', 'put off')
            AND NOT EXISTS (
                SELECT 1 FROM record o
                JOIN record r ON r.site = o.site AND r.started_at > o.started_at
                JOIN reading q ON q.record = r.record
                JOIN point p ON p.point = q.point
                WHERE o.record = concern.record
                    AND (p.name = concern.subject OR p.step_key = concern.subject)
            )
            AND NOT EXISTS (
                SELECT 1 FROM record o
                JOIN record r ON r.site = o.site AND r.started_at > o.started_at
                JOIN finding f ON f.record = r.record
                WHERE o.record = concern.record AND f.finding = concern.subject
            )
            AND (concern.kind <> 'put off' OR NOT EXISTS (
                SELECT 1 FROM record o
                JOIN record r ON r.site = o.site AND r.started_at > o.started_at
                JOIN concern k ON k.record = r.record
                WHERE o.record = concern.record AND k.kind = 'put off' AND k.subject = concern.subject
            )) THEN 1
        ELSE 0 END
    WHERE {_IN_TOUCHED}""",
)
"""A reading holds until the same was read again; what was put off until that or until it was put off anew; a
record that was returned until it is answered (``returns``); everything else in the newest record only."""

BROKEN: Final = "('changed', 'rewritten', 'incomplete', 'malformed')"
"""States of a record that is not as it was sealed."""
FAILED_KINDS: Final = "('stops work', 'reading failed', 'reading accepted')"
"""Concerns of readings out of band, whatever was decided."""

SCORE: Final = """
    CASE
        WHEN a.broken > 0 OR coalesce(c.stopped, 0) > 0 OR coalesce(n.stop_findings, 0) > 0 THEN 0
        WHEN coalesce(c.returned, 0) > 0 OR coalesce(l.gaps, 0) > 0 THEN 1
        WHEN coalesce(c.undecided, 0) > 0 OR coalesce(n.open_findings, 0) > 0
            OR coalesce(n.drifts_act, 0) > 0 THEN 2
        WHEN a.unsigned > 0 OR a.unreadable > 0 THEN 3
        WHEN coalesce(c.accepted, 0) > 0 OR coalesce(c.deferred, 0) > 0 OR coalesce(n.released, 0) > 0
            OR coalesce(c.accepted_findings, 0) > 0 OR coalesce(c.failed, 0) > 0
            OR coalesce(n.overturned, 0) > 0 THEN 4
        WHEN a.waiting > 0 THEN 5
        WHEN coalesce(n.differing, 0) > 0 OR coalesce(n.late, 0) > 0 OR coalesce(n.fast, 0) > 0
            OR coalesce(n.drifts_advise, 0) > 0 OR coalesce(n.uncalibrated, 0) > 0 THEN 6
        ELSE 7
    END"""
"""The order of sites, worst first; among equals the one whose service is due first.

0 somebody may be hurt, or a record is not as it was sealed; 1 returned and not answered, or a record is
missing; 2 out of band or to be mended, and nobody decided; 3 not signed, or a file cannot be read; 4 put
off, accepted or otherwise decided, or a hold point released; 5 waits to be countersigned; 6 something to look
at; 7 nothing but the next service.
"""

NO_COPY: Final = "NOT EXISTS (SELECT 1 FROM record o WHERE o.visit = r.visit AND o.answer <> '')"
"""No other file of the same visit was answered: a copy from before waits for nobody."""

SITES: Final = (
    f"DELETE FROM site WHERE {_IN_TOUCHED}",
    f"""
    INSERT INTO site ({", ".join(SITE.names)})
    SELECT n.site, n.site_name, n.place, n.record, a.records, n.kind, n.started_at, n.started_text,
        n.technician, n.chemistry, n.profile, n.state, n.answer, a.broken, a.unreadable,
        coalesce(l.gaps, 0), a.unsigned, a.waiting, a.waiting_since, coalesce(c.returned, 0),
        c.returned_since, coalesce(c.stopped, 0), coalesce(c.failed, 0), coalesce(c.undecided, 0),
        coalesce(c.accepted, 0), coalesce(c.failed_deferred, 0), coalesce(c.accepted_findings, 0),
        coalesce(c.deferred, 0), c.deferred_until,
        coalesce(n.stop_findings, 0), coalesce(n.open_findings, 0), coalesce(n.unchecked_findings, 0),
        coalesce(n.differing, 0), coalesce(n.released, 0), coalesce(n.late, 0), coalesce(n.overturned, 0),
        coalesce(n.fast, 0), coalesce(n.drifts_act, 0), coalesce(n.drifts_advise, 0),
        coalesce(n.uncalibrated, 0),
        d.next_due, coalesce(substr(d.next_one, 1, 10), ''), coalesce(substr(d.next_one, 12), ''), {SCORE}
    FROM record n
    JOIN (
        SELECT r.site, sum(CASE WHEN r.state <> 'unreadable' THEN 1 ELSE 0 END) AS records,
            sum(CASE WHEN r.state IN {BROKEN} THEN 1 ELSE 0 END) AS broken,
            sum(CASE WHEN r.state = 'unreadable' THEN 1 ELSE 0 END) AS unreadable,
            sum(CASE WHEN r.signed = 0 AND r.state NOT IN ('malformed', 'unreadable') THEN 1 ELSE 0 END)
                AS unsigned,
            sum(CASE WHEN r.signed = 1 AND r.answer = '' AND {NO_COPY} THEN 1 ELSE 0 END) AS waiting,
            min(CASE WHEN r.signed = 1 AND r.answer = '' AND {NO_COPY} THEN r.signed_at END)
                AS waiting_since
        FROM record r WHERE r.state <> 'no record' AND r.{_IN_TOUCHED} GROUP BY r.site
    ) a ON a.site = n.site
    LEFT JOIN (
        SELECT site, sum(CASE WHEN kind = 'stops work' THEN 1 ELSE 0 END) AS stopped,
            sum(CASE WHEN kind IN {FAILED_KINDS} THEN 1 ELSE 0 END) AS failed,
            sum(CASE WHEN kind = 'stops work' OR (kind = 'reading failed' AND disposition = '')
                THEN 1 ELSE 0 END) AS undecided,
            sum(CASE WHEN kind = 'reading accepted' THEN 1 ELSE 0 END) AS accepted,
            sum(CASE WHEN kind = 'reading failed' AND disposition = 'deferred' THEN 1 ELSE 0 END)
                AS failed_deferred,
            sum(CASE WHEN kind = 'returned' THEN 1 ELSE 0 END) AS returned,
            min(CASE WHEN kind = 'returned' THEN at_time END) AS returned_since,
            sum(CASE WHEN kind = 'finding accepted' THEN 1 ELSE 0 END) AS accepted_findings,
            sum(CASE WHEN kind = 'put off' THEN 1 ELSE 0 END) AS deferred,
            min(CASE WHEN kind = 'put off' THEN until_at END) AS deferred_until
        FROM concern WHERE alive = 1 AND {_IN_TOUCHED} GROUP BY site
    ) c ON c.site = n.site
    LEFT JOIN (
        SELECT site, sum(gap) AS gaps FROM link WHERE {_IN_TOUCHED} GROUP BY site
    ) l ON l.site = n.site
    LEFT JOIN (
        SELECT e.site, min(e.due_at) AS next_due, min(e.told) AS next_one FROM (
            SELECT r.site, x.every, max(x.due_at) AS due_at, max(x.due_text || ' ' || x.every) AS told
            FROM due x JOIN record r ON r.record = x.record WHERE r.{_IN_TOUCHED}
            GROUP BY r.site, x.every HAVING max(x.holds) = 1
        ) e GROUP BY e.site
    ) d ON d.site = n.site
    WHERE n.latest = 1 AND n.{_IN_TOUCHED}""",
)

_HELD_INTO: Final = f"INSERT INTO held ({', '.join(HELD.names)})"
HELD_NOW: Final = (
    f"DELETE FROM held WHERE {_IN_TOUCHED}",
    f"""
    {_HELD_INTO}
    SELECT 'battery profile', '', profile, NULL, '', site, '', record FROM record
    WHERE latest = 1 AND profile <> '' AND {_IN_TOUCHED}""",
    f"""
    {_HELD_INTO}
    SELECT 'device', d.section, d.class, NULL, '', r.site, d.part, r.record
    FROM record r JOIN device d ON d.record = r.record
    WHERE r.latest = 1 AND d.class <> '' AND r.{_IN_TOUCHED}""",
    f"""
    {_HELD_INTO}
    SELECT 'firmware', n.class, n.firmware, NULL, '', n.site, n.part, n.record FROM (
        SELECT r.site, d.part, d.class, d.firmware, r.record,
            row_number() OVER (PARTITION BY r.site, d.part ORDER BY {_NEWEST}) AS newest
        FROM record r JOIN device d ON d.record = r.record WHERE d.firmware <> '' AND r.{_IN_TOUCHED}
    ) n WHERE n.newest = 1""",
    f"""
    {_HELD_INTO}
    SELECT 'setting', s.setting, s.as_left_text, s.as_left,
        CASE WHEN s.as_left IS NULL OR s.unit = '1' THEN '' ELSE s.unit END, n.site, s.device, n.record FROM (
        SELECT r.site, r.record, row_number() OVER (PARTITION BY r.site ORDER BY {_NEWEST}) AS newest
        FROM record r WHERE r.left_settings > 0 AND r.{_IN_TOUCHED}
    ) n JOIN setting s ON s.record = n.record
    WHERE n.newest = 1 AND (s.as_left IS NOT NULL OR s.as_left_text <> '')""",
    f"""
    {_HELD_INTO}
    SELECT 'instrument', n.kind, n.meter, NULL, '', n.site, n.instrument, n.record FROM (
        SELECT r.site, i.meter, i.kind, i.instrument, r.record,
            row_number() OVER (PARTITION BY r.site, i.meter ORDER BY {_NEWEST}) AS newest
        FROM record r JOIN instrument i ON i.record = r.record WHERE r.{_IN_TOUCHED}
    ) n WHERE n.newest = 1""",
)
"""Settings are those of the newest record that tells any; a service visit carries those of the one before."""

_TALLY_INTO: Final = f"INSERT INTO tally ({', '.join(TALLY.names)})"
_SUMS: Final = """count(DISTINCT r.site), count(*), sum(r.readings), sum(r.judged), sum(r.failed),
        sum(r.accepted), 0, 0.0, 0.0,
        CASE WHEN sum(r.judged) > 0 THEN 1.0 * sum(r.failed) / sum(r.judged) ELSE 0.0 END"""
TALLIES: Final = (
    f"DELETE FROM tally WHERE dimension <> 'site' OR name IN (SELECT site FROM {TOUCHED})",
    f"""
    {_TALLY_INTO}
    SELECT 'site', r.site, max(r.site_name), '', {_SUMS} FROM record r
    WHERE r.readings IS NOT NULL AND r.{_IN_TOUCHED} GROUP BY r.site""",
    f"""
    {_TALLY_INTO}
    SELECT 'technician', r.technician_key, max(r.technician), '', {_SUMS} FROM record r
    WHERE r.readings IS NOT NULL AND r.technician_key <> '' GROUP BY r.technician_key""",
    f"""
    {_TALLY_INTO}
    SELECT 'chemistry', r.chemistry, r.chemistry, '', {_SUMS} FROM record r
    WHERE r.readings IS NOT NULL AND r.chemistry <> '' GROUP BY r.chemistry""",
    f"""
    {_TALLY_INTO}
    SELECT 'device class', d.class, d.class, '', {_SUMS}
    FROM (SELECT DISTINCT record, class FROM device WHERE class <> '') d
    JOIN record r ON r.record = d.record WHERE r.readings IS NOT NULL GROUP BY d.class""",
    f"""
    {_TALLY_INTO}
    SELECT 'instrument', i.meter, max(i.name), max(i.kind), count(DISTINCT r.site), count(*),
        sum(i.readings), sum(i.judged), sum(i.failed), 0, sum(i.placed), sum(i.deviation),
        sum(i.deviation_squares),
        CASE WHEN sum(i.judged) > 0 THEN 1.0 * sum(i.failed) / sum(i.judged) ELSE 0.0 END
    FROM instrument i JOIN record r ON r.record = i.record GROUP BY i.meter""",
)

BEFORE_CHAINS: Final = (*LATEST, *ALIVE)
AFTER_CHAINS: Final = (*SITES, *HELD_NOW, *TALLIES)
