"""What takes time and memory, measured with the settings under which the service runs."""

import passband.service  # noqa: F401
