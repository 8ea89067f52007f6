"""Words and letters for left and right in headers.

Public: `SIDES`, `NUMBER_OF_SIDE`.
"""

from __future__ import annotations

SIDES = {"l": "left", "r": "right", "lh": "left", "rh": "right"}
"""Letters of a side, and its word."""
NUMBER_OF_SIDE: dict[str, int] = {
    "left": 1, "right": 2, "lh": 1, "rh": 2, "l": 1, "r": 2, "a": 1, "b": 2,
    **dict.fromkeys("links linke gauche sinistra sinistro izquierda izquierdo esquerda esquerdo vanster venstre "
                    "vasen lewa lewy leva levy stanga левый левая лева 左 왼쪽".split(), 1),
    **dict.fromkeys("rechts rechte droite droit destra destro derecha derecho direita direito hoger hojre "
                    "hoyre oikea prawa prawy prava pravy jobb dreapta правый правая 右 오른쪽".split(), 2),
}  # fmt: skip
"""Which of two a side is, as evened words say it: left comes first, as banks are counted nowhere alike."""
