"""Is the service ready? Its kernels are compiled, and a known dose comes out as known."""

import logging
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Final

from service.api.metrics import uncounted
from service.planning.self_check import self_check
from service.planning.warm_up import warm_up

logger = logging.getLogger("service.readiness")

WARM_UP_RETRY_SECONDS: Final = 1
"""Prepared kernels are loaded within it."""


class Readiness:
    """
    Warm up once, on a thread of its own, and check a known dose as often as asked.

    Parameters
    ----------
    prepare : callable
        Compiles everything; raises when a known result does not come out as known.
    check : callable
        Tells whether a known dose comes out as known.
    """

    def __init__(
        self,
        prepare: Callable[[], object] = warm_up,
        check: Callable[[], bool] = self_check,
    ) -> None:
        self._prepare = prepare
        self._check = check
        self._lock = threading.Lock()
        self._prepared: Future[None] | None = None

    @property
    def begun(self) -> bool:
        """Tell whether warming up has begun."""
        return self._prepared is not None

    def begin(self) -> Future[None]:
        """Begin to warm up, or return what has begun."""
        with self._lock:
            if self._prepared is None:
                self._prepared = Future()
                threading.Thread(target=self._warm_up, name="warm-up", daemon=True).start()
            return self._prepared

    def _warm_up(self) -> None:
        prepared = self.begin()
        try:
            with uncounted():
                self._prepare()
        except Exception as error:
            logger.exception("the service could not be prepared")
            prepared.set_exception(error)
        else:
            prepared.set_result(None)

    def confirmed(self) -> bool:
        """Tell whether everything is prepared and the known dose comes out as known now."""
        prepared = self.begin()
        return prepared.done() and prepared.exception() is None and self._check()
