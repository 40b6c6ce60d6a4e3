"""Flask's hold on the database: one SQLAlchemy session per request, on the store's tables."""

from flask_sqlalchemy import SQLAlchemy

from ebbline.store.models import Base

db = SQLAlchemy(metadata=Base.metadata)
