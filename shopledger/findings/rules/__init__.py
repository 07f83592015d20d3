"""One rule a module, each a function `find(period, rules)` that answers findings of a period and of the present state.
To add one: a module here, its name in ALL, a test at its boundary and both sides of it."""

from shopledger.findings.rules import (
    certificate,
    destination,
    difference,
    evacuation,
    label_range,
    leak_check,
    leak_open,
    leak_rate,
    paper,
    purchase,
    refresher,
    retention,
    retest,
    reuse,
    safe_fill,
    scale_check,
    service_ban,
    single_use,
)

ALL = (
    certificate.find,
    leak_open.find,
    leak_check.find,
    service_ban.find,
    leak_rate.find,
    reuse.find,
    single_use.find,
    safe_fill.find,
    retest.find,
    destination.find,
    label_range.find,
    evacuation.find,
    difference.find,
    scale_check.find,
    paper.find,
    purchase.find,
    refresher.find,
    retention.find,
)
