"""The web application, put together."""

from __future__ import annotations

import asyncio
import importlib
import pkgutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import APIRouter, Depends, FastAPI
from fastapi.concurrency import run_in_threadpool
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from app.core.log_safety import keep_values_out_of_logs
from app.imaging.examine import Examiner, InThisProcess
from app.imaging.workers import Workers
from app.settings import Settings
from app.storage.database import Store
from app.storage.trail_doing import PROGRAM, Doing, begin
from app.web import api, pages
from app.web.body_limit import BodyLimit
from app.web.choice import ToChoose, on_overtaken
from app.web.counted_examiner import CountedExaminer
from app.web.dependencies import guard
from app.web.errors import install_error_handlers
from app.web.first_code import FirstCode
from app.web.headers import SafetyHeaders
from app.web.known_hosts import KnownHosts
from app.web.live import Live, following
from app.web.metrics import Metrics
from app.web.noting import Noting, note_start
from app.web.readiness import Readiness
from app.web.rendering import make_environment
from app.web.request_log import RequestLog
from app.web.static_files import HashedStatic, StaticVersion
from app.web.upkeep import upkeep

DESCRIPTION = (
    "Tells whether a full-mouth series of intraoral radiographs is complete, and if not, which fewest retakes "
    "close the gaps. It aids completeness and image quality; it is not a diagnostic device."
)


FIRST = ("start_series",)
"""Modules whose routes go before the others': /series/new must not be taken for the series "new"."""


def routers() -> list[APIRouter]:
    """The router of every module of pages and of the JSON side, pages in the order of their names."""
    found: list[APIRouter] = []
    for package in (pages, api):
        for module in sorted(
            (each.name for each in pkgutil.iter_modules(package.__path__)),
            key=lambda name: (name not in FIRST, name),
        ):
            loaded = importlib.import_module(f"{package.__name__}.{module}")
            if hasattr(loaded, "router"):
                found.append(loaded.router)
    return found


def create_application(settings: Settings) -> FastAPI:
    """The application; the data folder is opened and brought to the newest revision when it starts."""
    metrics = Metrics()

    @asynccontextmanager
    async def life(application: FastAPI) -> AsyncIterator[None]:
        store = await run_in_threadpool(Store, settings.data_folder)
        await run_in_threadpool(store.migrate)
        application.state.store = store
        begin(Doing(from_where=PROGRAM))
        await run_in_threadpool(note_start, store)
        # Workers start with the first file, and end with the server.
        workers = Workers(settings.image_workers) if settings.image_workers else None
        examiner: Examiner = workers or InThisProcess()
        application.state.examiner = CountedExaminer(examiner, metrics)
        application.state.readiness = Readiness(store, application.state.examiner, settings)
        metrics.watch(store, settings.idle_minutes)
        # Set when the server begins to stop: whatever waits for news ends then, and holds nothing up.
        application.state.ending = asyncio.Event()
        application.state.live = Live(store)
        async with upkeep(store) as task, following(application.state.live, application.state.ending):
            application.state.upkeep = task
            yield
            application.state.ending.set()
        if workers is not None:
            await run_in_threadpool(workers.close)
        store.close()

    keep_values_out_of_logs()
    application = FastAPI(
        title="fullcount",
        description=DESCRIPTION,
        version="1",
        lifespan=life,
        dependencies=[Depends(guard)],
        # The usual pages for these load scripts from another site; /api lists the same plainly.
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
    )
    static = StaticVersion()
    application.state.settings = settings
    application.state.templates = make_environment(static)
    application.state.first_code = FirstCode()
    application.state.metrics = metrics
    for router in routers():
        application.include_router(router)
    application.mount("/static", HashedStatic(static), name="static")
    install_error_handlers(application)
    application.add_exception_handler(ToChoose, on_overtaken)
    application.add_middleware(BodyLimit, settings=settings)
    application.add_middleware(KnownHosts, settings=settings)
    application.add_middleware(SafetyHeaders, https=settings.secure_cookies)
    # It sees what every other layer answers.
    application.add_middleware(Noting)
    application.add_middleware(RequestLog, metrics=metrics)
    if settings.proxies:
        # Outermost: whoever asks, and whether it was by HTTPS, is known to everything within.
        proxies = [each.strip() for each in settings.proxies.split(",")]
        application.add_middleware(ProxyHeadersMiddleware, trusted_hosts=proxies)
    return application
