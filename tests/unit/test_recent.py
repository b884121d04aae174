"""What a pass over the project worked out is kept while later passes come back to it."""

from __future__ import annotations

import threading

from core.geometry import Region, Ring
from core.pieces import _cut_panel, cut_panels
from core.project.model import Panel, Project
from core.recent import Recent
from core.shop import Cutter, Machine, Material, Shop


def test_a_result_is_worked_out_once_while_it_is_used() -> None:
    asked: list[int] = []

    def square(value: int) -> int:
        asked.append(value)
        return value * value

    kept = Recent(square, rounds=2)
    for _ in range(5):
        assert kept(7) == 49
        kept.next_round()
    assert asked == [7]


def test_what_the_last_rounds_did_not_use_is_let_go() -> None:
    kept = Recent(str, rounds=2)
    kept(1)
    for turn in range(2, 12):
        kept(turn)
        kept.next_round()
        assert len(kept) <= 3
    assert len(kept) == 2
    kept.forget()
    assert len(kept) == 0


def test_threads_may_ask_at_once() -> None:
    kept = Recent(abs, rounds=3)
    wrong: list[int] = []

    def ask() -> None:
        for turn in range(2000):
            if kept(-(turn % 50)) != turn % 50:
                wrong.append(turn)
            if turn % 40 == 0:
                kept.next_round()

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong and len(kept) <= 50


def test_cut_panels_of_states_long_gone_are_let_go() -> None:
    panels = tuple(
        Panel(f"p{i}", f"Shelf {i}", Region.of(Ring.rectangle(0, 0, 500 + i, 300)), material="b")
        for i in range(4)
    )
    _cut_panel.forget()
    for step in range(40):
        shop = Shop(
            machine=Machine(cutters=(Cutter(6.0 + step / 100),)), materials=(Material("b", 18.0),)
        )
        again = cut_panels(Project(panels=panels, shop=shop))
        assert cut_panels(Project(panels=panels, shop=shop)).pieces[0] is again.pieces[0]
    assert len(_cut_panel) < 40  # of 160 worked out
