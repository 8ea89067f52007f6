"""What the four wheels go by in other languages: a wheel's speed, its corner, whether the engine drives it.

A wheel's name is put together of three lists a language, since loggers put it together so: "Radgeschwindigkeit VL",
"Vitesse roue arrière gauche", "Velocidad rueda motriz". Written from memory of the trade's words.

Public: `WHEELS_BY_LANGUAGE`, `SAYS_DRIVEN`, `SAYS_UNDRIVEN`.
"""

from __future__ import annotations

_CORNERS = ("fl", "fr", "rl", "rr")

# Language: names of a wheel's speed; then of the corners front left, front right, rear left, rear right; then what a
# driven wheel is called, and an undriven one. Parted by bars, corners by semicolons.
_SPOKEN: dict[str, tuple[str, str, str, str]] = {
    "German": (
        "radgeschwindigkeit | raddrehzahl | geschwindigkeit rad | drehzahl rad",
        "vl | vorne links | vorn links; vr | vorne rechts | vorn rechts; "
        "hl | hinten links; hr | hinten rechts",
        "angetrieben | antrieb | antriebsrad",
        "nicht angetrieben | ohne antrieb | frei",
    ),
    "French": (
        "vitesse roue | vitesse de roue | régime roue",
        "avg | avant gauche; avd | avant droit | avant droite; "
        "arg | arrière gauche; ard | arrière droit | arrière droite",
        "motrice | motrices",
        "non motrice | non motrices | libre",
    ),
    "Spanish": (
        "velocidad rueda | velocidad de rueda | rpm rueda",
        "di | delantera izquierda | delantera izq | del izq; dd | delantera derecha | delantera der | delantera dcha | "
        "del der; ti | trasera izquierda | trasera izq | tras izq; td | trasera derecha | trasera der | trasera dcha | "
        "tras der",
        "motriz | motrices | tractora",
        "no motriz | libre",
    ),
    "Portuguese": (
        "velocidade roda | velocidade da roda | rotação roda",
        "de | dianteira esquerda | dianteira esq; dd | dianteira direita | dianteira dir; te | traseira esquerda | "
        "traseira esq; td | traseira direita | traseira dir",
        "motriz | motora",
        "não motriz | livre",
    ),
    "Italian": (
        "velocità ruota | giri ruota",
        "as | anteriore sinistra | anteriore sx | ant sx; ad | anteriore destra | anteriore dx | ant dx; "
        "ps | posteriore sinistra | posteriore sx | post sx; pd | posteriore destra | posteriore dx | post dx",
        "motrice | motrici",
        "non motrice | folle",
    ),
    "Dutch": (
        "wielsnelheid | wiel snelheid | wieltoerental",
        "lv | links voor | linksvoor; rv | rechts voor | rechtsvoor; la | links achter | linksachter; "
        "ra | rechts achter | rechtsachter",
        "aangedreven",
        "niet aangedreven",
    ),
    "Swedish": (
        "hjulhastighet | hjulvarvtal | hastighet hjul",
        "vf | vänster fram; hf | höger fram; vb | vänster bak; hb | höger bak",
        "drivande | drivhjul",
        "odrivet | ej drivande",
    ),
    "Polish": (
        "prędkość koła",
        "lp | lewe przednie; pp | prawe przednie; lt | lewe tylne; pt | prawe tylne",
        "napędowe | napędzane",
        "nienapędzane",
    ),
    "Czech": (
        "rychlost kola",
        "lp | levé přední; pp | pravé přední; lz | levé zadní; pz | pravé zadní",
        "hnané | hnaného",
        "nehnané | nehnaného",
    ),
    "Danish": (
        "hjulhastighed | hjulfart",
        "vf | venstre for; hf | højre for; vb | venstre bag; hb | højre bag",
        "trækkende | drivhjul",
        "ikke trækkende",
    ),
    "Norwegian": (
        "hjulhastighet | hjulfart",
        "vf | venstre foran; hf | høyre foran; vb | venstre bak; hb | høyre bak",
        "drivende | drivhjul",
        "ikke drivende",
    ),
    "Finnish": (
        "pyörän nopeus | pyöränopeus | renkaan nopeus",
        "ve | vasen etu; oe | oikea etu; vt | vasen taka; ot | oikea taka",
        "vetävä | vetävän",
        "vapaa",
    ),
    "Hungarian": (
        "keréksebesség | kerék sebesség",
        "be | bal első; je | jobb első; bh | bal hátsó; jh | jobb hátsó",
        "hajtott",
        "nem hajtott",
    ),
    "Turkish": (
        "tekerlek hızı | teker hızı",
        "sol ön; sağ ön; sol arka; sağ arka",
        "çekiş | tahrik",
        "serbest",
    ),
    "Russian": (
        "скорость колеса",
        "пл | переднее левое | переднего левого; пп | переднее правое | переднего правого; "
        "зл | заднее левое | заднего левого; зп | заднее правое | заднего правого",
        "ведущее | ведущего",
        "ведомое | ведомого",
    ),
}  # fmt: skip


def _listed(bars: str) -> list[str]:
    return [word.strip() for word in bars.split("|")]


def _aliases_of(names: str, corners: str, driven: str, undriven: str) -> dict[str, str]:
    """All names of one language's wheels, by channel."""
    of_channel = {f"wheel_speed_{at}": words for at, words in zip(_CORNERS, corners.split(";"), strict=True)}
    of_channel |= {"wheel_speed_driven": driven, "ground_speed": undriven}
    return {
        channel: " | ".join(f"{name} {which}" for name in _listed(names) for which in _listed(words))
        for channel, words in of_channel.items()
    }


WHEELS_BY_LANGUAGE: dict[str, dict[str, str]] = {language: _aliases_of(*spoken) for language, spoken in _SPOKEN.items()}
"""Language, channel, its aliases parted by bars."""
SAYS_DRIVEN, SAYS_UNDRIVEN = (
    frozenset(word for spoken in _SPOKEN.values() for word in _listed(spoken[at])) for at in (2, 3)
)
"""What says of a wheel that the engine drives it, or that it does not."""
