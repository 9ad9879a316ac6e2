"""Every example of every shipped rule, computed by the same judging and the same engines as a weighing."""

import pytest
from helpers import shipped_rules

from conserve.inference import outcome_of
from conserve.rule import Example, Rule

EXAMPLES = [(rule, example) for rule in shipped_rules().rules for example in rule.examples]


NAMES = [f"{example.where.file}:{example.where.line} {example.name}" for _, example in EXAMPLES]


@pytest.mark.parametrize(("rule", "example"), EXAMPLES, ids=NAMES)
def test_an_example_comes_out_as_its_rule_expects(rule: Rule, example: Example):
    assert outcome_of(rule, example.given, shipped_rules()) == example.expect


def test_every_rule_shows_itself_applying_silent_and_open():
    for rule in shipped_rules().rules:
        shown = {outcome_of(rule, example.given, shipped_rules()) for example in rule.examples}
        assert shown == {rule.then.kind.value, *(("silent", "open") if rule.when else ())}, rule.id
