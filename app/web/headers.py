"""What every answer carries for safety.

Compared by a test with the list of the OWASP Secure Headers Project, kept with its source and our reasons where we
differ in ``shared/published/safety_headers.json``.
"""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        # blob: shows a picture before it has been sent.
        "img-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)

SWITCHED_OFF = (
    "accelerometer autoplay camera clipboard-read clipboard-write cross-origin-isolated display-capture "
    "encrypted-media fullscreen gamepad geolocation gyroscope hid idle-detection keyboard-map magnetometer "
    "microphone midi payment picture-in-picture publickey-credentials-get screen-wake-lock serial sync-xhr unload "
    "usb xr-spatial-tracking"
).split()
"""What no page of ours asks of a browser, and so nobody may in its name."""

HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    # Not "no-referrer": browsers then send "Origin: null" with our own forms.
    "Referrer-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "X-Permitted-Cross-Domain-Policies": "none",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Embedder-Policy": "require-corp",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": ", ".join(f"{name}=()" for name in SWITCHED_OFF),
    # Pages hold patients. What may be kept says so itself: pictures, for this browser, and files without anybody.
    "Cache-Control": "no-store",
}

HTTPS_ONLY = "max-age=31536000; includeSubDomains"
"""For a year (ASVS 5.0, late draft, 3.4.1). Sent behind HTTPS only: elsewhere it is ignored (RFC 6797, 8.1)."""


class SafetyHeaders:
    """Puts the headers on every answer.

    Parameters
    ----------
    https : whether the program stands behind HTTPS even where the request itself does not say so
    """

    def __init__(self, app: ASGIApp, *, https: bool = False) -> None:
        self.app = app
        self.https = https

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, adding headers to the answer."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        https = self.https or scope.get("scheme") == "https"

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if https:
                    headers.setdefault("Strict-Transport-Security", HTTPS_ONLY)
                    headers["Content-Security-Policy"] += "; upgrade-insecure-requests"
            await send(message)

        await self.app(scope, receive, with_headers)
