"""What every response says to a browser: what it may load, and that nobody may put the page into theirs.

Public: `SAFE_HEADERS`, `CHANGING`.
"""

CHANGING = frozenset({"POST", "PUT", "PATCH", "DELETE"})
"""Methods that ask for a change: only our own page may, and not every role."""

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "connect-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
"""All scripts and styles are our own files; what a script draws it sets by property, not by markup."""

# Under no-referrer a browser sends a form with ``Origin: null``, which no guard can tell from a foreign page.
SAFE_HEADERS: dict[str, str] = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
