"""A part of a rule file that is being read, with every mistake in it noted."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, Protocol, TypeVar

from msgspec.structs import replace

from checker.outcome.results import Source
from checker.reading.documents import Mapping, Place, Problem, Sequence
from checker.rulebook.beside_records import Lever
from checker.rulebook.literals import condition
from checker.rulebook.misfits import Misfit, sound
from checker.rulebook.model import Condition, Described, Document, Rule, Vocabulary
from checker.words import choices

REQUIRED = ("title", "subject", "value", "severity", "from", "why", "remedy", "limits")
"""The keys that every rule has; a rule that overrides another's limits takes the others from
that.
"""

T = TypeVar("T")
Word = TypeVar("Word", bound=str)


class Known(Protocol):
    """What was read before and a rule file may refer to.

    Attributes:
        vocabulary: the names that rules may use.
        documents: sources, by id.
        cautions: words, by name.
        levers: changes, by name.
        group: of the limits of no code in the files that are read now, as `RuleLimit.group`.
    """

    vocabulary: Vocabulary
    documents: dict[str, Document]
    cautions: dict[str, str]
    levers: dict[str, Lever]
    group: str

    def document(self, name: str) -> Document | None:
        """Find a source.

        Args:
            name: its id.

        Returns:
            The document; one without limits of time or code where its own entry has a mistake, so
            that this is not reported again at each use; None where there is no such source.
        """

    def scope(self, node: Mapping, place: Place) -> tuple[Condition, ...]:
        """Read the jobs that a source or a limit applies to.

        Args:
            node: conditions on fields of a design ('project.work: new').
            place: of the mapping.

        Returns:
            The conditions, all of which a job must meet where it states the field.
        """


class Node:
    """One mapping of a rule file, while it is read.

    Attributes:
        known: what it may refer to.
        shown: the path of its file as it is shown.
        mapping: as typed.
        before: the rule that it overrides; None where it overrides none.
        misfits: what does not fit the schema.
        own: whether the file is a firm's.
        problems: all mistakes found so far, those of `misfits` included.
        subject: what the rule judges, once that is read.
        described: what the rule compares, once that is read.
        compared: the name of that.
    """

    def __init__(
        self,
        known: Known,
        shown: str,
        mapping: Mapping,
        before: Rule | None,
        misfits: list[Misfit],
        *,
        own: bool,
    ) -> None:
        self.known = known
        self.shown = shown
        self.mapping = mapping
        self.before = before
        self.misfits = misfits
        self.own = own
        self.problems = [misfit.problem for misfit in misfits]
        self.subject = ""
        self.described = Described("quantity")
        self.compared = ""

    def place(self, holder: Any, key: Any) -> Any:
        """Give the place of a value in the file.

        Args:
            holder: the mapping or list that the value is in.
            key: its key, or its number from 0.

        Returns:
            The place of the value; that of the mapping where it lacks the key.
        """
        if isinstance(holder, Mapping):
            return holder.places[key][1] if key in holder.places else holder.place
        return holder.places[key]

    def part(self, path: tuple[str | int, ...], make: Callable[[], T], otherwise: T) -> T:
        """Read one part of the mapping, and go on whatever is wrong with it.

        Args:
            path: the keys and numbers that lead to the part; the first is a key of the mapping.
            make: reads the part; where it raises Problem, that is added to `problems`.
            otherwise: what to go on with.

        Returns:
            What `make` gives; `otherwise` where that raises Problem, and, without calling it, where
            the part is required and missing or does not fit the schema.
        """
        lacking = path[0] in REQUIRED and path[0] not in self.mapping and self.before is None
        if lacking or not sound(self.misfits, *path):
            return otherwise
        return self.noted(make, otherwise)

    def noted(self, make: Callable[[], T], otherwise: T) -> T:
        """Read something, and go on whatever is wrong with it.

        Args:
            make: reads it; where it raises Problem, that is added to `problems`.
            otherwise: what to go on with then.

        Returns:
            What `make` gives, else `otherwise`.
        """
        try:
            return make()
        except Problem as problem:
            self.problems.append(problem)
            return otherwise

    def text(self, key: str, otherwise: str) -> str:
        """Read a text.

        Args:
            key: of the mapping.
            otherwise: where the mapping lacks the key: the text of the rule that is overridden, or
                empty.

        Returns:
            The text without space around it; `otherwise` too where it misfits.
        """
        return self.part((key,), lambda: str(self.mapping.get(key, otherwise)).strip(), otherwise)

    def items(self, key: str) -> Iterator[tuple[int, Any, Place]]:
        """Go through the items of a list.

        Args:
            key: of the mapping.

        Returns:
            For each item its number from 0, the item as typed, and its place; none where the value
            is missing or no list.
        """
        nodes = self.mapping.get(key)
        if isinstance(nodes, Sequence):
            yield from zip(range(len(nodes)), nodes, nodes.places, strict=True)

    def one_of(self, key: str, known: Iterable[Word], default: str = "") -> Word:
        """Read a word that must be one of a few.

        Args:
            key: of the mapping.
            known: the words that are allowed.
            default: counts where the mapping lacks the key; must be among `known` too.

        Returns:
            The member of `known`.

        Raises:
            Problem: the word is not among them; the message names the nearest.
        """
        word = self.mapping.get(key, default)
        names = {str(name): name for name in known}
        if word not in names:
            raise Problem(
                f"{key}: '{word}' is not known; {choices(str(word), names)}",
                self.place(self.mapping, key),
            )
        return names[word]

    def describe(self, name: str, place: Any) -> Described:
        """Look up a name of the rule's subject, which must have been read before.

        Args:
            name: of a field or a quantity.
            place: where the name is in the file.

        Returns:
            What the name means.

        Raises:
            Problem: the subject has no such name; the message names the nearest.
        """
        found = self.known.vocabulary.describe(self.subject, name)
        if found is None:
            near = choices(name, self.known.vocabulary.names(self.subject))
            raise Problem(
                f"'{name}' is neither a field nor a quantity of a {self.subject}; {near}", place
            )
        return found

    def caution_of(self, node: Mapping) -> str:
        """Look up the caution that a part of the rule names.

        Args:
            node: a limit, or the whole rule.

        Returns:
            The caution in words; empty where none is named.

        Raises:
            Problem: there is no such caution.
        """
        name, known = node.get("caution"), self.known.cautions
        if name is not None and name not in known:
            words = f"'{name}' is not known; {choices(name, known)}"
            raise Problem(words, self.place(node, "caution"))
        return known[name] if name is not None else ""

    def conditions(self, node: Any, holder: Any, key: Any) -> tuple[Condition, ...]:
        """Read conditions on columns of the rule's subject.

        Args:
            node: as typed; None where there are none.
            holder: the mapping or list that the node is in.
            key: of the node in the holder, for a mistake about the node as a whole.

        Returns:
            The conditions in the order of the file, all of which must be met; empty for None.

        Raises:
            Problem: it is not a mapping, or a name or value is not known.
        """
        if node is None:
            return ()
        if not isinstance(node, Mapping):
            raise Problem("Write conditions as 'field: value'.", self.place(holder, key))
        found = []
        for name, wanted in node.items():
            place = node.places[name][1]
            found.append(condition(name, wanted, self.describe(name, place), place))
        return tuple(found)

    def document(self, name: str, place: Place) -> Document | None:
        """Find the source that a limit names.

        Args:
            name: its id.
            place: where the name is in the file.

        Returns:
            The document, as `Known.document` gives it; never None.

        Raises:
            Problem: there is no such source; the message names the nearest.
        """
        document = self.known.document(name)
        if document is None:
            near = choices(name, self.known.documents)
            raise Problem(f"There is no source '{name}'; {near}", place)
        return document

    def source(self, source: Source, node: Mapping) -> Source:
        """Make a document's source that of one limit.

        Args:
            source: of the whole document.
            node: the limit; its `clause` and `seen` replace those of the document.

        Returns:
            A copy, marked as a firm's own where the file is a firm's.
        """
        changes = {key: node[key] for key in ("clause", "seen") if key in node}
        return replace(source, **changes, **({"own": True} if self.own else {}))
