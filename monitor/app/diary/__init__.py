"""The yard's diary: all things that fall due by the record, gathered from their sources, in words and as JSON."""

from monitor.app.diary.diary_words import diary_json, diary_lines
from monitor.app.diary.due_list import OF_PLACES, OF_PLACES_LOG, diary, of_places
from monitor.app.diary.sources import Asked
