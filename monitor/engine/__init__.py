"""The engine: the one state machine between what arrives and what people are told. Pure."""

from monitor.engine.audience import NOBODY, PEOPLE, Audience
from monitor.engine.engine import Engine
from monitor.engine.history import History
from monitor.engine.state import EngineState

__all__ = ["NOBODY", "PEOPLE", "Audience", "Engine", "EngineState", "History"]
