"""Blanks that are sawn already: what they were sawn for goes back into them, or nowhere."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from core.layout.budget import Budget
from core.layout.ground import Ground, Key
from core.layout.snug import put_back
from core.nesting import Layout, NestPiece, NestRules, Placement, nest
from core.plan import PlanPiece
from core.project.model import KeptLayout

#: Part of the budget for finding room in the blanks that were sawn.
SHARE = 0.2


class SawnBlanks:
    """Puts what was sawn for back into its blanks.

    pieces: for nesting; by_id: the same as planned; wanted: copies of each piece.
    """

    def __init__(
        self,
        pieces: list[NestPiece],
        by_id: Mapping[str, PlanPiece],
        wanted: Mapping[str, int],
        rules: NestRules,
        *,
        seed: int,
        stop: Callable[[], bool] | None,
    ) -> None:
        self.pieces = pieces
        self.by_id = by_id
        self.wanted = wanted
        self.rules = rules
        self.seed = seed
        self.stop = stop
        #: Copy numbers in the search → in the layout, where the blanks had no room for some.
        self.renumbered: dict[Key, int] = {}

    def run(
        self,
        start: KeptLayout,
        ground: Ground,
        layout: Layout,
        locked: list[Key],
        budget: Budget,
    ) -> tuple[list[NestPiece], Layout, list[Key]]:
        """What the sawn blanks were sawn for goes back into them, or nowhere.

        Returns the pieces still to be laid (copies without room in the sawn blanks are left
        out), the start of their layout and what is locked in it.
        """
        bound = {
            (piece, copy)
            for sheet in start.sheets
            if sheet.frozen
            for piece, copy in sheet.wanted
            if copy <= self.wanted.get(piece, 0) and piece in self.by_id
        }
        held = {(s.sheet, s.sheet_copy) for s in start.sheets if s.frozen}
        bound |= {
            (p.piece, p.copy)
            for p in start.placed
            if (p.sheet, p.sheet_copy) in held
            and p.piece in self.by_id
            and p.copy <= self.wanted.get(p.piece, 0)
        }
        lying = {(p.piece_id, p.copy) for p in layout.placements}
        by_id = {p.id: p for p in self.pieces}
        homeless = sorted(key for key in bound - lying if key[0] in by_id)
        back_again = put_back(
            homeless,
            start,
            ground,
            layout.placements,
            self.by_id,
            spacing_mm=self.rules.spacing_mm,
        )
        layout = replace(layout, placements=(*layout.placements, *back_again))
        homeless = [k for k in homeless if k not in {(p.piece_id, p.copy) for p in back_again}]
        if not homeless:
            return self.pieces, layout, locked
        keys = ground.frozen_keys
        here = [p for p in layout.placements if p.sheet_id in keys]
        # Copies are renamed so that each can be laid by itself.
        names = {f"{piece}\n{copy}": (piece, copy) for piece, copy in homeless}
        names |= {f"{p.piece_id}\n{p.copy}": (p.piece_id, p.copy) for p in here}
        single = [replace(by_id[piece], id=name, quantity=1) for name, (piece, _) in names.items()]
        stay = Layout(tuple(p._replace(piece_id=f"{p.piece_id}\n{p.copy}", copy=1) for p in here))
        share = budget.share(SHARE)
        found = nest(
            single,
            ground.only(keys).sheets(),
            self.rules,
            seconds=share.seconds,
            steps=share.steps,
            seed=self.seed,
            start=stay,
            locked=[(p.piece_id, 1) for p in stay.placements],
            stop=self.stop,
        )
        back = {names[p.piece_id]: p for p in found.placements}
        placements = list(layout.placements)
        for piece, copy in homeless:
            one = back.get((piece, copy))
            if one is not None:
                placements.append(one._replace(piece_id=piece, copy=copy))
        lost = [key for key in homeless if key not in back]
        return self._without(lost, placements, locked)

    def _without(
        self, lost: Sequence[Key], placements: list[Placement], locked: list[Key]
    ) -> tuple[list[NestPiece], Layout, list[Key]]:
        """Fewer copies of some pieces, all that are left over numbered from 1."""
        fewer: dict[str, int] = {}
        for name, _ in lost:
            fewer[name] = fewer.get(name, 0) + 1
        pieces = []
        rename: dict[Key, Key] = {}
        for piece in self.pieces:
            left = piece.quantity - fewer.get(piece.id, 0)
            if left > 0:
                pieces.append(replace(piece, quantity=left))
            kept = [c for c in range(1, piece.quantity + 1) if (piece.id, c) not in lost]
            for number, copy in enumerate(kept, start=1):
                rename[(piece.id, copy)] = (piece.id, number)
                self.renumbered[(piece.id, number)] = copy
        moved = tuple(
            p._replace(copy=rename[(p.piece_id, p.copy)][1])
            for p in placements
            if (p.piece_id, p.copy) in rename
        )
        return pieces, Layout(moved, seed=self.seed), [rename[k] for k in locked if k in rename]
