"""What a person writes in a rule file, key by key; the JSON Schema for editors comes from here.

The forms check keys and texts. What the words mean (terms, facts, settings, amounts) is read
by the module of each record, which knows where they stand.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, WithJsonSchema

MOST_POINTS = 40
Confidence = Literal["firm", "usual", "loose"]

Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=1000)]
# An amount and the direction word behind it.
AMOUNT_PATTERN = r"^\s*(\d+([.,]\d*)?|[.,]\d+)\s*[^\s\d].*$"
Tasks = Annotated[list[Text], Field(min_length=1, max_length=40)]

# A name for what is described once for all, in the module of the schema.
CONDITION = "condition"
WrittenCondition = Annotated[Any, WithJsonSchema({"title": CONDITION})]
WrittenChange = Annotated[
    Any,
    WithJsonSchema(
        {
            "type": "object",
            "additionalProperties": {"type": "string", "pattern": AMOUNT_PATTERN},
            "minProperties": 1,
        }
    ),
]
WrittenPoints = Annotated[
    Any,
    WithJsonSchema(
        {
            "type": "array",
            "minItems": 2,
            "maxItems": MOST_POINTS,
            "items": {
                "type": "array",
                "prefixItems": [{"type": "number"}, {"type": "number", "minimum": 0, "maximum": 1}],
                "minItems": 2,
                "maxItems": 2,
            },
        }
    ),
]
WrittenWords = Annotated[
    Any,
    # Yes and no are words of a category, and truth values to YAML.
    WithJsonSchema(
        {
            "anyOf": [
                {"type": ["string", "boolean"]},
                {"type": "array", "minItems": 1, "items": {"type": ["string", "boolean"]}},
            ]
        }
    ),
]


class Form(BaseModel):
    """The base of what is written in a rule file: no unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class TermForm(Form):
    """A word with a degree: over one fact, or over other terms."""

    fact: Text | None = Field(None, description="the fact the word is about")
    points: WrittenPoints = Field(
        None, description="breakpoints [value of the fact, degree], values rising"
    )
    is_: WrittenWords = Field(None, alias="is", description="the category's words it stands for")
    when: WrittenCondition = Field(None, description="for a word that stands on other terms")
    why: Text = Field(description="the reason of the breakpoints, one sentence")


class RuleForm(Form):
    """A rule of thumb."""

    title: Text = Field(description="what a mechanic would call the rule")
    when: WrittenCondition = Field(description="the terms under which it applies")
    change: WrittenChange = Field(
        None, description="setting: amount and direction word, such as 'fork_height: 2 lower'"
    )
    confidence: Confidence | None = Field(None, description="firm, usual or loose")
    why: Text = Field(description="the reason, one sentence of physics or practice")
    look_for: Text | None = Field(None, description="what to look for afterwards")
    source: Text = Field(description="a published work by name, or 'common practice, no source'")
    caution: Text | None = Field(None, description="where it can hurt")
    balances: Tasks | None = Field(
        None, description="ids of rules it knowingly pulls against on the same ground"
    )
    prepare: Tasks | None = Field(None, description="preparation tasks")
    watch: Tasks | None = Field(None, description="things to watch")


class CandidateForm(Form):
    """One thing to try after a remark."""

    change: WrittenChange = Field(None, description="setting: amount and direction word")
    check: Tasks | None = Field(
        None, description="what must be in order before any setting is changed"
    )
    prepare: Tasks | None = Field(None, description="tasks, where no setting is moved")
    gain: Confidence = Field(description="firm, usual or loose: how often it helps")
    why: Text = Field(description="the reason, one sentence of physics or practice")
    when: WrittenCondition = Field(None, description="offered only under these terms")
    better: WrittenCondition = Field(None, description="terms that move it up the ranking")
    worse: WrittenCondition = Field(None, description="terms that move it down the ranking")
    caution: Text | None = Field(None, description="where it can hurt")


class RemarkForm(Form):
    """A rider's remark and what to try, best first."""

    title: Text = Field(description="the remark in a sentence")
    where: Any = Field(description="the place on the track")
    what: Any = Field(description="what the motorcycle does")
    end: Any = Field(description="front, rear, both, engine or controls")
    words: Tasks = Field(description="words a rider uses for it")
    try_: Any = Field(alias="try", description="what to try, best first")
    look_for: Text = Field(description="what to look for afterwards")
    source: Text = Field(description="a published work by name, or 'common practice, no source'")
