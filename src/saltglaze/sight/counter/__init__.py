"""The distance counter: where it is burned in, what it says, what it must have said."""

from saltglaze.sight.counter.eye import CounterEye

__all__ = ["CounterEye"]
