"""The folders of the tree stay where they are; installed, all of it lies under one name: passband."""

from setuptools import find_packages, setup

HOUSE = ("analysis", "web", "service", "demo_logs")
FRONT_DOOR = "analysis/front_door"

found = find_packages(include=[pattern for name in HOUSE for pattern in (name, f"{name}.*")])
setup(
    packages=["passband", *(f"passband.{name}" for name in found if name != FRONT_DOOR.replace("/", "."))],
    package_dir={"passband": FRONT_DOOR, **{f"passband.{name}": name for name in HOUSE}},
)
