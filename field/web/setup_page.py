"""The setup page: how a phone comes to trust this home. On plain http, and so without any record, code or login."""

from __future__ import annotations

from flask import Flask, Response, render_template, send_from_directory

from field.core.errors import NotFound
from field.services.pair import draw_qr
from field.services.phone_setup import FILE_NAME, PhoneSetup
from field.web import assets, errors

SHOWN = frozenset(
    {
        "css/tokens.css",
        "css/base.css",
        "css/parts.css",
        "css/controls.css",
        "img/contours.svg",
        "img/contours-dark.svg",
        "img/icon.svg",
        "setup/setup.css",
    }
)
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Robots-Tag": "none",
    "Cache-Control": "no-store",  # what is said here changes with the home; and the page is small
    "Server": "Fellside",
}


def create_setup_app(setup: PhoneSetup) -> Flask:
    """Return the app that shows how to set up a phone for one home."""
    app = Flask("field", static_folder=None, template_folder=str(assets.find_folder("templates")))
    errors.init_app(app)

    @app.get("/")
    def page() -> str:
        return render_template("setup.html", setup=setup, groups=setup.fingerprint.split(" "))

    @app.get("/qr.svg")
    def drawing() -> Response:
        return Response(draw_qr(setup.page), content_type="image/svg+xml")

    @app.get(f"/{FILE_NAME}")
    def certificate() -> Response:
        return Response(setup.der, content_type="application/x-x509-ca-cert", headers=_saved_as(FILE_NAME))

    @app.get("/fellside-home.mobileconfig")
    def profile() -> Response:
        return Response(setup.profile, content_type="application/x-apple-aspen-config")

    @app.get("/static/<path:name>")
    def static_file(name: str) -> Response:
        if name not in SHOWN:
            raise NotFound("There is nothing at this address.")
        return send_from_directory(assets.find_folder("static"), name)

    app.add_url_rule(f"{assets.FONT_URL}/<name>", view_func=assets.font_file)
    app.after_request(_finish)
    return app


def _saved_as(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}"'}


def _finish(answer: Response) -> Response:
    for name, value in HEADERS.items():
        answer.headers[name] = value
    return answer
