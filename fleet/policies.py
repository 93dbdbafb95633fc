"""What every answer tells a browser."""

# Everything a page uses comes from this site; a microphone may be asked for by our own pages only.
POLICIES = {
    "Content-Security-Policy": (
        "default-src 'self'; img-src 'self' data: blob:; style-src 'self'; script-src 'self'; connect-src 'self'; "
        "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
    "Permissions-Policy": "microphone=(self), camera=(self), geolocation=()",
    # Django's middleware gives these two as well, but not to what it refuses itself: an address of another host.
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
}
