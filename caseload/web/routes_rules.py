"""Addresses of the rules: read by everybody, changed by a lead and a second person."""

from django.urls import path

from caseload.web.views import rule_changes, rule_moves, rules

OF_CHANGE = "rules/changes/<slug:code>/"

rule_pages = [
    path("rules/", rules.show, name="rules"),
    path("rules/side-by-side/", rules.compare, name="rules-compare"),
    path("rules/changes/new/", rule_changes.propose, name="rule-change-new"),
    path(OF_CHANGE, rule_changes.show, name="rule-change"),
    path(f"{OF_CHANGE}effect/", rule_changes.count, name="rule-change-effect"),
    path(f"{OF_CHANGE}sign/", rule_changes.sign, name="rule-change-sign"),
    path(f"{OF_CHANGE}withdraw/", rule_changes.withdraw, name="rule-change-withdraw"),
    path("rules/move/", rule_moves.move_open, name="rules-move"),
    path("episodes/<slug:code>/rules/", rule_moves.move_one, name="episode-rules"),
]
