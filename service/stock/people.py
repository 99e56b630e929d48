"""The people whom work is asked of; nobody signs in by this."""

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored


class Person(Stored, Base):
    """Somebody to ask or to tell. `contact`: how to reach them, in words."""

    __tablename__ = "people"

    name: Mapped[str] = mapped_column(String(80), unique=True)
    role: Mapped[str] = mapped_column(String(80), default="")
    contact: Mapped[str] = mapped_column(String(200), default="")
