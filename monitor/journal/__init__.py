"""The journal: the one truth of a yard, in one SQLite file that one writer appends to.

`open_writer` serves the process that feeds the engine, `open_reader` everybody else; by `Inbox` others ask the writer.
"""

from monitor.journal.audit import WITHOUT_HASH, audit, audit_beside_days, audit_days, check_pages
from monitor.journal.backup import UnsoundCopyError, backup, copy_reader, files_beside
from monitor.journal.chain import NO_DAY, Finding, What, days_of, verify_chain
from monitor.journal.engine_port import Machine
from monitor.journal.inbox import Inbox, Judged, Reply, Request
from monitor.journal.lock import LOCK_FILE, WriterLock, holder
from monitor.journal.meaning_seals import refuse_newer
from monitor.journal.outbox_rows import notice_id
from monitor.journal.photo_folder import PHOTOS, PhotoFolder, PhotosFullError, bring_photos
from monitor.journal.private import FILE_MODE, FOLDER_MODE, private_folder
from monitor.journal.quarantine import Tally
from monitor.journal.record_state import StateName, event_at, events_since, payload_at, state_name
from monitor.journal.restore import Missing, NotSoundError, Restored, restore
from monitor.journal.resume import resume
from monitor.journal.retention import Kept, dropped_entries
from monitor.journal.schema import JOURNAL_FILE, OlderTablesError, journal_path
from monitor.journal.storage_faults import DamagedError
from monitor.journal.store import Store, open_reader
from monitor.journal.timeline import FOREVER, KeptFlag
from monitor.journal.turn import Outcome, Turn
from monitor.journal.waiting import WAITING_MAX, Waiting
from monitor.journal.writer import Writer, open_writer
