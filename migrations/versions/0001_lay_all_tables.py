"""Lay all tables

Guarded tables change only by ADD COLUMN: a batch change drops their triggers and can lose children.
"""

import sqlalchemy as sa
from alembic import op

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
NUMBER = sa.Text().with_variant(sa.TEXT(collation="C"), "postgresql")

revision = '0001'
down_revision = None


def upgrade() -> None:
    op.create_table('batch',
    sa.Column('batch_id', WHOLE, nullable=False, comment='I- number'),
    sa.Column('file', sa.Text(), nullable=False, comment='file name'),
    sa.Column('sha256', sa.Text(), nullable=False, comment='digest of the file'),
    sa.Column('profile', NUMBER, nullable=False, comment='profile'),
    sa.Column('profile_edition', WHOLE, nullable=False, comment='its edition; 0 is the shipped one'),
    sa.Column('kind', NUMBER, nullable=False, comment='kind of file'),
    sa.Column('at', WHOLE, nullable=False, comment='when taken [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('batch_id', name=op.f('pk_batch')),
    comment='imports as wholes',
    sqlite_strict=True
    )
    with op.batch_alter_table('batch', schema=None) as batch_op:
        batch_op.create_index('uq_batch_sha256', ['sha256', 'profile'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('clock',
    sa.Column('clock_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('name', NUMBER, nullable=False, comment='name of the clock'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('clock_id', name=op.f('pk_clock')),
    comment='clocks of sources',
    sqlite_strict=True
    )
    with op.batch_alter_table('clock', schema=None) as batch_op:
        batch_op.create_index('uq_clock_name', ['name'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('customer',
    sa.Column('customer_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('name', NUMBER, nullable=False, comment='name'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('customer_id', name=op.f('pk_customer')),
    comment='customers',
    sqlite_strict=True
    )
    with op.batch_alter_table('customer', schema=None) as batch_op:
        batch_op.create_index('uq_customer_name', ['name'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('element',
    sa.Column('element_id', WHOLE, nullable=False, comment='fixed number of the element'),
    sa.Column('symbol', NUMBER, nullable=False, comment='symbol'),
    sa.PrimaryKeyConstraint('element_id', name=op.f('pk_element')),
    comment='element symbols by number; Al is total, Als acid-soluble aluminium',
    sqlite_strict=True
    )
    op.create_table('file_mark',
    sa.Column('name', NUMBER, nullable=False, comment='name of the fact'),
    sa.Column('value', sa.Text(), nullable=False, comment='its value'),
    sa.PrimaryKeyConstraint('name', name=op.f('pk_file_mark')),
    comment='facts of the database itself: made by, practice or not',
    sqlite_strict=True,
    sqlite_with_rowid=False
    )
    op.create_table('grade',
    sa.Column('grade_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('standard', NUMBER, nullable=False, comment='standard'),
    sa.Column('name', NUMBER, nullable=False, comment='short name'),
    sa.Column('family', NUMBER, nullable=True, comment='grade family by which works values are looked up'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('grade_id', name=op.f('pk_grade')),
    comment='named steels',
    sqlite_strict=True
    )
    with op.batch_alter_table('grade', schema=None) as batch_op:
        batch_op.create_index('uq_grade_name', ['standard', 'name'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('heat',
    sa.Column('heat_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('heat_no', NUMBER, nullable=False, comment='number as the plant writes it, normalised for search'),
    sa.Column('series', NUMBER, nullable=False, comment='series in which the number is unique: works, year or furnace'),
    sa.Column('written_no', NUMBER, nullable=False, comment='number as first written'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('heat_id', name=op.f('pk_heat')),
    comment='tapped batches of steel',
    sqlite_strict=True
    )
    with op.batch_alter_table('heat', schema=None) as batch_op:
        batch_op.create_index('uq_heat_series', ['heat_no', 'series'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('hold',
    sa.Column('hold_id', WHOLE, nullable=False, comment='H- number'),
    sa.Column('reason', NUMBER, nullable=False, comment='reason code'),
    sa.Column('note', sa.Text(), nullable=False, comment='the same in words'),
    sa.Column('lift_on', sa.Text(), nullable=False, comment='evidence that would lift it, separated by ;'),
    sa.Column('owner', sa.Text(), nullable=True, comment='who pursues it'),
    sa.Column('due_at', WHOLE, nullable=True, comment='due [ms UTC]'),
    sa.Column('requirement', NUMBER, nullable=True, comment='requirement it bars; empty bars all uses'),
    sa.Column('caused_by', sa.Text(), nullable=True, comment='fact that caused a proposed hold'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('hold_id', name=op.f('pk_hold')),
    comment='holds',
    sqlite_strict=True
    )
    with op.batch_alter_table('hold', schema=None) as batch_op:
        batch_op.create_index('ix_hold_reason', ['reason'], unique=False)

    op.create_table('ledger',
    sa.Column('entry_no', WHOLE, nullable=False, comment='number of the entry, from 1 without gaps'),
    sa.Column('at', WHOLE, nullable=False, comment='when it was written [ms UTC]'),
    sa.Column('by', sa.Text(), nullable=False, comment='who wrote, as stated'),
    sa.Column('action', NUMBER, nullable=False, comment='command words'),
    sa.Column('subject', sa.Text(), nullable=False, comment='what it was about'),
    sa.Column('form', WHOLE, nullable=False, comment='version of the canonical payload text'),
    sa.Column('payload', sa.Text(), nullable=False, comment='canonical JSON of what was done; an import holds the digest of its content and its counts'),
    sa.Column('clock_back', WHOLE, nullable=False, comment="the computer's clock stood before the entry before this one"),
    sa.Column('previous', sa.Text(), nullable=False, comment='digest of the entry before (64 zeros for the first)'),
    sa.Column('digest', sa.Text(), nullable=False, comment='SHA-256 over form, number, time, person, action, subject, payload and previous digest'),
    sa.PrimaryKeyConstraint('entry_no', name=op.f('pk_ledger')),
    comment='append-only chain: one entry per changing command',
    sqlite_strict=True
    )
    op.create_table('mix_group',
    sa.Column('mix_group_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('note', sa.Text(), nullable=False, comment='what was seen'),
    sa.Column('settled', WHOLE, nullable=False, comment='sorted out'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('mix_group_id', name=op.f('pk_mix_group')),
    comment='suspected swaps',
    sqlite_strict=True
    )
    op.create_table('person',
    sa.Column('person_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('name', NUMBER, nullable=False, comment='name as printed'),
    sa.Column('role', NUMBER, nullable=False, comment='role in the works'),
    sa.Column('independent', WHOLE, nullable=False, comment='independent of casting and rolling'),
    sa.Column('from_at', WHOLE, nullable=False, comment='member from [ms UTC]'),
    sa.Column('until_at', WHOLE, nullable=True, comment='member until [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("role IN ('clerk', 'foreman', 'metallurgist', 'inspection', 'complaints', 'quality-manager')", name=op.f('ck_person_role')),
    sa.PrimaryKeyConstraint('person_id', name=op.f('pk_person')),
    comment='persons with role and independence from casting',
    sqlite_strict=True
    )
    with op.batch_alter_table('person', schema=None) as batch_op:
        batch_op.create_index('uq_person_name', ['name'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('profile',
    sa.Column('profile_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('name', NUMBER, nullable=False, comment='name'),
    sa.Column('edition', WHOLE, nullable=False, comment='edition, from 1'),
    sa.Column('takes', NUMBER, nullable=False, comment='kind of file it reads'),
    sa.Column('body', sa.Text(), nullable=False, comment='TOML as given'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('profile_id', name=op.f('pk_profile')),
    comment='profiles of sources',
    sqlite_strict=True
    )
    with op.batch_alter_table('profile', schema=None) as batch_op:
        batch_op.create_index('uq_profile_name', ['name'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('reference_material',
    sa.Column('reference_material_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('name', NUMBER, nullable=False, comment='name on its certificate'),
    sa.Column('contents', sa.Text(), nullable=False, comment='certified contents with uncertainty, canonical JSON'),
    sa.Column('source', sa.Text(), nullable=False, comment='certificate'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('reference_material_id', name=op.f('pk_reference_material')),
    comment='reference materials',
    sqlite_strict=True
    )
    with op.batch_alter_table('reference_material', schema=None) as batch_op:
        batch_op.create_index('uq_reference_material_name', ['name'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('result_form',
    sa.Column('form_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('qualifier', NUMBER, nullable=False, comment='=, <, > or not-reported'),
    sa.Column('unit', NUMBER, nullable=False, comment='unit as reported'),
    sa.Column('places', WHOLE, nullable=False, comment='decimals as reported, in mass %'),
    sa.Column('method', NUMBER, nullable=False, comment='method where it differs from the analysis; else empty'),
    sa.Column('places_lost', WHOLE, nullable=False, comment='a spreadsheet may have dropped trailing zeros'),
    sa.CheckConstraint("qualifier IN ('=', '<', '>', 'not-reported')", name=op.f('ck_result_form_qualifier')),
    sa.PrimaryKeyConstraint('form_id', name=op.f('pk_result_form')),
    comment='forms of reported values',
    sqlite_strict=True
    )
    op.create_table('rule_set',
    sa.Column('rule_set_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('version', NUMBER, nullable=False, comment='version of the rule set'),
    sa.Column('description', sa.Text(), nullable=False, comment='rule codes and titles, canonical JSON'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('rule_set_id', name=op.f('pk_rule_set')),
    comment='versions of the judging rules',
    sqlite_strict=True
    )
    with op.batch_alter_table('rule_set', schema=None) as batch_op:
        batch_op.create_index('uq_rule_set_version', ['version'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('sequence',
    sa.Column('sequence_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('sequence_no', NUMBER, nullable=False, comment='number as the plant writes it'),
    sa.Column('caster', NUMBER, nullable=False, comment='caster'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('sequence_id', name=op.f('pk_sequence')),
    comment='casting sequences',
    sqlite_strict=True
    )
    with op.batch_alter_table('sequence', schema=None) as batch_op:
        batch_op.create_index('uq_sequence_no', ['sequence_no'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('works_value',
    sa.Column('works_value_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('name', NUMBER, nullable=False, comment='name of the value'),
    sa.Column('scope', NUMBER, nullable=False, comment='what it is limited to: a grade family, event kind, section ...; empty for all'),
    sa.Column('edition', WHOLE, nullable=False, comment='edition, from 1'),
    sa.Column('value', sa.Text(), nullable=False, comment='value, canonical JSON'),
    sa.Column('reason', sa.Text(), nullable=False, comment='why it was set'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.PrimaryKeyConstraint('works_value_id', name=op.f('pk_works_value')),
    comment='works-editable values by edition',
    sqlite_strict=True
    )
    with op.batch_alter_table('works_value', schema=None) as batch_op:
        batch_op.create_index('ix_works_value_name', ['name'], unique=False)
        batch_op.create_index('uq_works_value_edition', ['name', 'scope', 'edition'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('addition',
    sa.Column('addition_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('material', NUMBER, nullable=False, comment='material'),
    sa.Column('mass_g', WHOLE, nullable=False, comment='mass [g]'),
    sa.Column('mass_text', sa.Text(), nullable=True, comment='mass as written, where its digits differ [kg]'),
    sa.Column('added_at', WHOLE, nullable=False, comment='when added [ms UTC]'),
    sa.Column('added_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_addition_batch_id')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_addition_heat_id')),
    sa.PrimaryKeyConstraint('addition_id', name=op.f('pk_addition')),
    comment='ladle additions',
    sqlite_strict=True
    )
    with op.batch_alter_table('addition', schema=None) as batch_op:
        batch_op.create_index('uq_addition_known', ['heat_id', 'material', 'added_at'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('authority',
    sa.Column('authority_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('person_id', WHOLE, nullable=False, comment='who'),
    sa.Column('act', NUMBER, nullable=False, comment='the act that may be signed'),
    sa.Column('family', NUMBER, nullable=True, comment='grade family it is limited to'),
    sa.Column('from_at', WHOLE, nullable=False, comment='valid from [ms UTC]'),
    sa.Column('until_at', WHOLE, nullable=True, comment='valid until [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['person_id'], ['person.person_id'], name=op.f('fk_authority_person_id')),
    sa.PrimaryKeyConstraint('authority_id', name=op.f('pk_authority')),
    comment='who may sign what',
    sqlite_strict=True
    )
    with op.batch_alter_table('authority', schema=None) as batch_op:
        batch_op.create_index('ix_authority_person', ['person_id'], unique=False)

    op.create_table('batch_count',
    sa.Column('batch_id', WHOLE, nullable=False, comment='import'),
    sa.Column('state', NUMBER, nullable=False, comment='taken or taken-with-bench'),
    sa.Column('rows_read', WHOLE, nullable=False, comment='rows read'),
    sa.Column('rows_taken', WHOLE, nullable=False, comment='rows taken'),
    sa.Column('rows_same', WHOLE, nullable=False, comment='rows known already'),
    sa.Column('rows_contested', WHOLE, nullable=False, comment='rows that contradict known ones'),
    sa.Column('rows_bench', WHOLE, nullable=False, comment='rows set aside'),
    sa.Column('slip', sa.Text(), nullable=False, comment='findings and notes of the import slip, canonical JSON'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("state IN ('taken', 'taken-with-bench')", name=op.f('ck_batch_count_state')),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_batch_count_batch_id')),
    sa.PrimaryKeyConstraint('batch_id', name=op.f('pk_batch_count')),
    comment='counts and slips of imports',
    sqlite_strict=True
    )
    op.create_table('bench_row',
    sa.Column('bench_id', WHOLE, nullable=False, comment='B- number'),
    sa.Column('batch_id', WHOLE, nullable=False, comment='import'),
    sa.Column('sheet', NUMBER, nullable=False, comment='sheet; empty for a single table'),
    sa.Column('row_no', WHOLE, nullable=False, comment='physical line or sheet row, from 1'),
    sa.Column('column_name', sa.Text(), nullable=True, comment="the file's own header text; empty for the whole row"),
    sa.Column('value', sa.Text(), nullable=True, comment='what was found there'),
    sa.Column('code', NUMBER, nullable=False, comment='finding code'),
    sa.Column('message', sa.Text(), nullable=False, comment='what, found, expected'),
    sa.Column('next', sa.Text(), nullable=False, comment='next step'),
    sa.Column('header', sa.Text(), nullable=False, comment='header cells of its table, canonical JSON'),
    sa.Column('cells', sa.Text(), nullable=False, comment='cells as read, canonical JSON'),
    sa.Column('raw', sa.LargeBinary(), nullable=False, comment='original bytes of the row'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_bench_row_batch_id')),
    sa.PrimaryKeyConstraint('bench_id', name=op.f('pk_bench_row')),
    comment='rows set aside',
    sqlite_strict=True
    )
    with op.batch_alter_table('bench_row', schema=None) as batch_op:
        batch_op.create_index('ix_bench_row_batch', ['batch_id'], unique=False)

    op.create_table('cast_analysis',
    sa.Column('cast_analysis_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('rule', NUMBER, nullable=False, comment='rule of the ladder, or reason'),
    sa.Column('ladder_edition', WHOLE, nullable=False, comment='edition of the works value used; 0 is the shipped one'),
    sa.Column('words', sa.Text(), nullable=False, comment='why, in words, canonical JSON'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_cast_analysis_heat_id')),
    sa.PrimaryKeyConstraint('cast_analysis_id', name=op.f('pk_cast_analysis')),
    comment='frozen cast analyses',
    sqlite_strict=True
    )
    with op.batch_alter_table('cast_analysis', schema=None) as batch_op:
        batch_op.create_index('ix_cast_analysis_heat', ['heat_id'], unique=False)

    op.create_table('cast_record',
    sa.Column('cast_record_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('edition', WHOLE, nullable=False, comment="edition of this sequence's book, from 1"),
    sa.Column('clock', NUMBER, nullable=True, comment='whose clock its times are'),
    sa.Column('recorded_until', WHOLE, nullable=True, comment='stated end of the record [ms UTC]'),
    sa.Column('last_at', WHOLE, nullable=False, comment='latest time in any sheet [ms UTC]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_cast_record_batch_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_cast_record_sequence_id')),
    sa.PrimaryKeyConstraint('cast_record_id', name=op.f('pk_cast_record')),
    comment='editions of cast books',
    sqlite_strict=True
    )
    with op.batch_alter_table('cast_record', schema=None) as batch_op:
        batch_op.create_index('ix_cast_record_sequence', ['sequence_id'], unique=False)

    op.create_table('clock_offset',
    sa.Column('clock_offset_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('clock_id', WHOLE, nullable=False, comment='clock'),
    sa.Column('from_at', WHOLE, nullable=False, comment='holds from [ms UTC]'),
    sa.Column('offset_ms', WHOLE, nullable=False, comment="to be added to that clock's times [ms]"),
    sa.Column('evidence', sa.Text(), nullable=False, comment='paired moments it was found from, canonical JSON'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['clock_id'], ['clock.clock_id'], name=op.f('fk_clock_offset_clock_id')),
    sa.PrimaryKeyConstraint('clock_offset_id', name=op.f('pk_clock_offset')),
    comment='dated offsets of clocks',
    sqlite_strict=True
    )
    with op.batch_alter_table('clock_offset', schema=None) as batch_op:
        batch_op.create_index('ix_clock_offset_clock', ['clock_id'], unique=False)

    op.create_table('complaint',
    sa.Column('complaint_id', WHOLE, nullable=False, comment='Q- number'),
    sa.Column('customer_id', WHOLE, nullable=False, comment='customer'),
    sa.Column('reference', sa.Text(), nullable=False, comment="customer's reference"),
    sa.Column('number_as_read', sa.Text(), nullable=False, comment='number as read on the steel, label or photograph'),
    sa.Column('defect', sa.Text(), nullable=False, comment="defect in the customer's words"),
    sa.Column('claimed_mass_g', WHOLE, nullable=True, comment='claimed mass [g]'),
    sa.Column('received_at', WHOLE, nullable=False, comment='received [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['customer_id'], ['customer.customer_id'], name=op.f('fk_complaint_customer_id')),
    sa.PrimaryKeyConstraint('complaint_id', name=op.f('pk_complaint')),
    comment='complaints',
    sqlite_strict=True
    )
    with op.batch_alter_table('complaint', schema=None) as batch_op:
        batch_op.create_index('ix_complaint_customer', ['customer_id'], unique=False)

    op.create_table('delivery_note',
    sa.Column('delivery_note_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('delivery_note', NUMBER, nullable=False, comment='number of the delivery note'),
    sa.Column('customer_id', WHOLE, nullable=False, comment='customer'),
    sa.Column('dispatched_at', WHOLE, nullable=True, comment='dispatched [ms UTC]'),
    sa.Column('dispatched_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_delivery_note_batch_id')),
    sa.ForeignKeyConstraint(['customer_id'], ['customer.customer_id'], name=op.f('fk_delivery_note_customer_id')),
    sa.PrimaryKeyConstraint('delivery_note_id', name=op.f('pk_delivery_note')),
    comment='loads dispatched',
    sqlite_strict=True
    )
    with op.batch_alter_table('delivery_note', schema=None) as batch_op:
        batch_op.create_index('uq_delivery_note_no', ['delivery_note'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('edition',
    sa.Column('edition_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('grade_id', WHOLE, nullable=False, comment='grade'),
    sa.Column('edition', NUMBER, nullable=False, comment='edition of the standard'),
    sa.Column('revision', WHOLE, nullable=False, comment='how often the stored limits of this edition were entered anew, from 1'),
    sa.Column('requirement', NUMBER, nullable=False, comment='STANDARD:EDITION GRADE'),
    sa.Column('extends', NUMBER, nullable=True, comment='grade whose rows it inherits'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_edition_batch_id')),
    sa.ForeignKeyConstraint(['grade_id'], ['grade.grade_id'], name=op.f('fk_edition_grade_id')),
    sa.PrimaryKeyConstraint('edition_id', name=op.f('pk_edition')),
    comment='editions of grades',
    sqlite_strict=True
    )
    with op.batch_alter_table('edition', schema=None) as batch_op:
        batch_op.create_index('ix_edition_requirement', ['requirement'], unique=False)
        batch_op.create_index('uq_edition_grade', ['grade_id', 'edition', 'revision'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('fitting',
    sa.Column('fitting_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=True, comment='strand'),
    sa.Column('tundish', NUMBER, nullable=True, comment='tundish label'),
    sa.Column('kind', NUMBER, nullable=False, comment='nozzle, stopper, mould or lubricant'),
    sa.Column('number_or_lot', NUMBER, nullable=False, comment='its number or lot'),
    sa.Column('from_at', WHOLE, nullable=False, comment='in use from [ms UTC]'),
    sa.Column('from_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('to_at', WHOLE, nullable=True, comment='in use to [ms UTC]'),
    sa.Column('to_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("kind IN ('nozzle', 'stopper', 'mould', 'lubricant')", name=op.f('ck_fitting_kind')),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_fitting_batch_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_fitting_sequence_id')),
    sa.PrimaryKeyConstraint('fitting_id', name=op.f('pk_fitting')),
    comment='nozzles, stoppers, moulds, lubricant lots',
    sqlite_strict=True
    )
    with op.batch_alter_table('fitting', schema=None) as batch_op:
        batch_op.create_index('ix_fitting_number', ['kind', 'number_or_lot'], unique=False)
        batch_op.create_index('ix_fitting_sequence', ['sequence_id'], unique=False)

    op.create_table('heat_state',
    sa.Column('heat_state_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('state', NUMBER, nullable=False, comment='open, complete or archived'),
    sa.Column('note', sa.Text(), nullable=False, comment='why'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("state IN ('open', 'complete', 'archived')", name=op.f('ck_heat_state_state')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_heat_state_heat_id')),
    sa.PrimaryKeyConstraint('heat_state_id', name=op.f('pk_heat_state')),
    comment='record state of heats',
    sqlite_strict=True
    )
    with op.batch_alter_table('heat_state', schema=None) as batch_op:
        batch_op.create_index('ix_heat_state_heat', ['heat_id'], unique=False)

    op.create_table('hold_event',
    sa.Column('hold_event_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('hold_id', WHOLE, nullable=False, comment='hold'),
    sa.Column('state', NUMBER, nullable=False, comment='state from then on'),
    sa.Column('evidence', sa.Text(), nullable=True, comment='records it was lifted on, canonical JSON'),
    sa.Column('note', sa.Text(), nullable=True, comment='note'),
    sa.Column('at', WHOLE, nullable=False, comment='when [ms UTC]'),
    sa.Column('by', sa.Text(), nullable=False, comment='who, as stated'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("state IN ('proposed', 'placed', 'under-check', 'lifted', 'turned-down')", name=op.f('ck_hold_event_state')),
    sa.ForeignKeyConstraint(['hold_id'], ['hold.hold_id'], name=op.f('fk_hold_event_hold_id')),
    sa.PrimaryKeyConstraint('hold_event_id', name=op.f('pk_hold_event')),
    comment='states of holds',
    sqlite_strict=True
    )
    with op.batch_alter_table('hold_event', schema=None) as batch_op:
        batch_op.create_index('ix_hold_event_hold', ['hold_id'], unique=False)

    op.create_table('part',
    sa.Column('part_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('kind', NUMBER, nullable=False, comment='piece, head-crop, tail-crop, sample or scrap'),
    sa.Column('origin', NUMBER, nullable=False, comment='how it came to be'),
    sa.Column('piece_no', NUMBER, nullable=True, comment='number as the plant writes it, normalised for search'),
    sa.Column('written_no', NUMBER, nullable=True, comment='number as first written'),
    sa.Column('form', NUMBER, nullable=True, comment='cast shape'),
    sa.Column('sequence_id', WHOLE, nullable=True, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=True, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=True, comment='run'),
    sa.Column('cut_no', WHOLE, nullable=True, comment='cut that closed it; empty for an implied tail'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("kind IN ('piece', 'head-crop', 'tail-crop', 'sample', 'scrap')", name=op.f('ck_part_kind')),
    sa.CheckConstraint("origin IN ('cast', 'recut', 'rolled', 'earlier')", name=op.f('ck_part_origin')),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_part_batch_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_part_sequence_id')),
    sa.PrimaryKeyConstraint('part_id', name=op.f('pk_part')),
    comment='pieces, crops, samples, scrap',
    sqlite_strict=True
    )
    with op.batch_alter_table('part', schema=None) as batch_op:
        batch_op.create_index('ix_part_cut', ['sequence_id', 'strand_no', 'run_no', 'cut_no'], unique=False)
        batch_op.create_index('uq_part_piece_no', ['piece_no'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('permitted_deviation',
    sa.Column('permitted_deviation_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('applies_to', NUMBER, nullable=False, comment='standard or grade keys'),
    sa.Column('element', NUMBER, nullable=False, comment='element'),
    sa.Column('limit_from', sa.Text(), nullable=True, comment='limits above this'),
    sa.Column('limit_to', sa.Text(), nullable=True, comment='limits up to this'),
    sa.Column('area_band_mm2', NUMBER, nullable=True, comment='band of area'),
    sa.Column('size_band_mm', NUMBER, nullable=True, comment='band of thickness'),
    sa.Column('under', sa.Text(), nullable=True, comment='room below a minimum'),
    sa.Column('over', sa.Text(), nullable=True, comment='room above a maximum'),
    sa.Column('kind', NUMBER, nullable=False, comment='absolute or percent'),
    sa.Column('one_side', WHOLE, nullable=False, comment='several determinations of a heat may not lie on both sides'),
    sa.Column('source', sa.Text(), nullable=False, comment='where it was read'),
    sa.Column('status', NUMBER, nullable=False, comment='verified or memory'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("kind IN ('absolute', 'percent')", name=op.f('ck_permitted_deviation_kind')),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_permitted_deviation_batch_id')),
    sa.PrimaryKeyConstraint('permitted_deviation_id', name=op.f('pk_permitted_deviation')),
    comment='permitted deviations of product analysis',
    sqlite_strict=True
    )
    op.create_table('retest',
    sa.Column('retest_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('hold_id', WHOLE, nullable=False, comment='hold it may lift'),
    sa.Column('round_no', WHOLE, nullable=False, comment='round, from 1'),
    sa.Column('ordered', sa.Text(), nullable=False, comment='what was ordered, canonical JSON'),
    sa.Column('result', sa.Text(), nullable=True, comment='what came back, canonical JSON'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['hold_id'], ['hold.hold_id'], name=op.f('fk_retest_hold_id')),
    sa.PrimaryKeyConstraint('retest_id', name=op.f('pk_retest')),
    comment='retest rounds',
    sqlite_strict=True
    )
    with op.batch_alter_table('retest', schema=None) as batch_op:
        batch_op.create_index('ix_retest_hold', ['hold_id'], unique=False)

    op.create_table('signing_key',
    sa.Column('signing_key_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('person_id', WHOLE, nullable=False, comment='whose key'),
    sa.Column('public_key', sa.LargeBinary(), nullable=False, comment='Ed25519 public key, 32 bytes'),
    sa.Column('practice', WHOLE, nullable=False, comment='marked practice: signs nothing real'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['person_id'], ['person.person_id'], name=op.f('fk_signing_key_person_id')),
    sa.PrimaryKeyConstraint('signing_key_id', name=op.f('pk_signing_key')),
    comment='public Ed25519 keys of persons',
    sqlite_strict=True
    )
    with op.batch_alter_table('signing_key', schema=None) as batch_op:
        batch_op.create_index('ix_signing_key_person', ['person_id'], unique=False)

    op.create_table('temperature',
    sa.Column('temperature_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('place', NUMBER, nullable=False, comment='where it was read'),
    sa.Column('tundish', NUMBER, nullable=True, comment='tundish label'),
    sa.Column('read_at', WHOLE, nullable=False, comment='when read [ms UTC]'),
    sa.Column('read_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('temperature_dc', WHOLE, nullable=False, comment='temperature [0.1 degree C]'),
    sa.Column('temperature_text', sa.Text(), nullable=True, comment='as written, where its digits differ [degree C]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("place IN ('ladle-arrival', 'ladle-rinse', 'ladle-lift', 'tundish')", name=op.f('ck_temperature_place')),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_temperature_batch_id')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_temperature_heat_id')),
    sa.PrimaryKeyConstraint('temperature_id', name=op.f('pk_temperature')),
    comment='temperature readings',
    sqlite_strict=True
    )
    with op.batch_alter_table('temperature', schema=None) as batch_op:
        batch_op.create_index('uq_temperature_known', ['heat_id', 'place', 'read_at'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('treatment',
    sa.Column('treatment_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('station', NUMBER, nullable=False, comment='station'),
    sa.Column('from_at', WHOLE, nullable=False, comment='from [ms UTC]'),
    sa.Column('to_at', WHOLE, nullable=True, comment='to [ms UTC]'),
    sa.Column('note', sa.Text(), nullable=True, comment='note'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_treatment_heat_id')),
    sa.PrimaryKeyConstraint('treatment_id', name=op.f('pk_treatment')),
    comment='stations a heat passed',
    sqlite_strict=True
    )
    with op.batch_alter_table('treatment', schema=None) as batch_op:
        batch_op.create_index('ix_treatment_heat', ['heat_id'], unique=False)

    op.create_table('alias',
    sa.Column('alias_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('alias', NUMBER, nullable=False, comment='other number, normalised for search'),
    sa.Column('written', NUMBER, nullable=False, comment='other number as written'),
    sa.Column('owner', NUMBER, nullable=False, comment='whose number it is'),
    sa.Column('from_at', WHOLE, nullable=False, comment='valid from [ms UTC]'),
    sa.Column('to_at', WHOLE, nullable=True, comment='valid to [ms UTC]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_alias_batch_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_alias_part_id')),
    sa.PrimaryKeyConstraint('alias_id', name=op.f('pk_alias')),
    comment='other numbers of parts',
    sqlite_strict=True
    )
    with op.batch_alter_table('alias', schema=None) as batch_op:
        batch_op.create_index('ix_alias_number', ['alias'], unique=False)
        batch_op.create_index('ix_alias_part', ['part_id'], unique=False)

    op.create_table('bench_event',
    sa.Column('bench_event_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('bench_id', WHOLE, nullable=False, comment='row'),
    sa.Column('state', NUMBER, nullable=False, comment='fixed, attached or void'),
    sa.Column('changes', sa.Text(), nullable=False, comment='cells set, canonical JSON'),
    sa.Column('reason', NUMBER, nullable=False, comment='reason code'),
    sa.Column('note', sa.Text(), nullable=True, comment='note'),
    sa.Column('by', sa.Text(), nullable=False, comment='who, as stated'),
    sa.Column('at', WHOLE, nullable=False, comment='when [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("state IN ('fixed', 'attached', 'void')", name=op.f('ck_bench_event_state')),
    sa.ForeignKeyConstraint(['bench_id'], ['bench_row.bench_id'], name=op.f('fk_bench_event_bench_id')),
    sa.PrimaryKeyConstraint('bench_event_id', name=op.f('pk_bench_event')),
    comment='what became of rows set aside',
    sqlite_strict=True
    )
    with op.batch_alter_table('bench_event', schema=None) as batch_op:
        batch_op.create_index('ix_bench_event_row', ['bench_id'], unique=False)

    op.create_table('cast_sheet',
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_record_id', WHOLE, nullable=False, comment='edition of the book'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('sheet', NUMBER, nullable=False, comment='sheet name'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['cast_record_id'], ['cast_record.cast_record_id'], name=op.f('fk_cast_sheet_cast_record_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_cast_sheet_sequence_id')),
    sa.PrimaryKeyConstraint('cast_sheet_id', name=op.f('pk_cast_sheet')),
    comment='sheets of cast books',
    sqlite_strict=True
    )
    with op.batch_alter_table('cast_sheet', schema=None) as batch_op:
        batch_op.create_index('uq_cast_sheet_name', ['sequence_id', 'sheet'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('complaint_event',
    sa.Column('complaint_event_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('complaint_id', WHOLE, nullable=False, comment='complaint'),
    sa.Column('state', NUMBER, nullable=False, comment='state from then on'),
    sa.Column('note', sa.Text(), nullable=False, comment='what was found or done'),
    sa.Column('cause', NUMBER, nullable=True, comment='cause code'),
    sa.Column('action', sa.Text(), nullable=True, comment='corrective action'),
    sa.Column('effective_on', NUMBER, nullable=True, comment='date its effect is checked'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("state IN ('received', 'identified', 'contained', 'under-study', 'answered', 'closed', 'reopened')", name=op.f('ck_complaint_event_state')),
    sa.ForeignKeyConstraint(['complaint_id'], ['complaint.complaint_id'], name=op.f('fk_complaint_event_complaint_id')),
    sa.PrimaryKeyConstraint('complaint_event_id', name=op.f('pk_complaint_event')),
    comment='steps of complaints',
    sqlite_strict=True
    )
    with op.batch_alter_table('complaint_event', schema=None) as batch_op:
        batch_op.create_index('ix_complaint_event_complaint', ['complaint_id'], unique=False)

    op.create_table('complaint_piece',
    sa.Column('complaint_piece_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('complaint_id', WHOLE, nullable=False, comment='complaint'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('how', sa.Text(), nullable=False, comment='how it was identified'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['complaint_id'], ['complaint.complaint_id'], name=op.f('fk_complaint_piece_complaint_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_complaint_piece_part_id')),
    sa.PrimaryKeyConstraint('complaint_piece_id', name=op.f('pk_complaint_piece')),
    comment='parts of complaints',
    sqlite_strict=True
    )
    with op.batch_alter_table('complaint_piece', schema=None) as batch_op:
        batch_op.create_index('ix_complaint_piece_complaint', ['complaint_id'], unique=False)
        batch_op.create_index('ix_complaint_piece_part', ['part_id'], unique=False)

    op.create_table('drill',
    sa.Column('drill_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part drawn'),
    sa.Column('elapsed_ms', WHOLE, nullable=False, comment='time both ways [ms]'),
    sa.Column('outcome', sa.Text(), nullable=False, comment='what was found, canonical JSON'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_drill_part_id')),
    sa.PrimaryKeyConstraint('drill_id', name=op.f('pk_drill')),
    comment='timed trace tests',
    sqlite_strict=True
    )
    with op.batch_alter_table('drill', schema=None) as batch_op:
        batch_op.create_index('ix_drill_part', ['part_id'], unique=False)

    op.create_table('earlier_heat',
    sa.Column('earlier_heat_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_earlier_heat_heat_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_earlier_heat_part_id')),
    sa.PrimaryKeyConstraint('earlier_heat_id', name=op.f('pk_earlier_heat')),
    comment='heats of pieces from before the record',
    sqlite_strict=True
    )
    with op.batch_alter_table('earlier_heat', schema=None) as batch_op:
        batch_op.create_index('ix_earlier_heat_heat', ['heat_id'], unique=False)
        batch_op.create_index('ix_earlier_heat_part', ['part_id'], unique=False)

    op.create_table('grade_limit',
    sa.Column('grade_limit_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('edition_id', WHOLE, nullable=False, comment='edition'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in the grade book'),
    sa.Column('basis', NUMBER, nullable=False, comment='cast, product or both'),
    sa.Column('size_band_mm', NUMBER, nullable=False, comment='band of the ordered thickness as printed'),
    sa.Column('quantity', NUMBER, nullable=False, comment='element, formula, sum or ratio'),
    sa.Column('min_text', sa.Text(), nullable=True, comment='minimum as printed'),
    sa.Column('aim_text', sa.Text(), nullable=True, comment='aim, never judged'),
    sa.Column('max_text', sa.Text(), nullable=True, comment='maximum as printed'),
    sa.Column('unit', NUMBER, nullable=False, comment='unit'),
    sa.Column('rounding', NUMBER, nullable=False, comment='rounding or absolute'),
    sa.Column('round_to', sa.Text(), nullable=True, comment="place to round to where it is not the limit's last"),
    sa.Column('condition', sa.Text(), nullable=True, comment='when-cell as written'),
    sa.Column('report', WHOLE, nullable=False, comment='must be reported'),
    sa.Column('valid_from', NUMBER, nullable=True, comment='date'),
    sa.Column('valid_until', NUMBER, nullable=True, comment='date'),
    sa.Column('source', sa.Text(), nullable=False, comment='where the limit was read'),
    sa.Column('status', NUMBER, nullable=False, comment='verified, memory or works'),
    sa.Column('notes', sa.Text(), nullable=True, comment='notes'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("basis IN ('cast', 'product', 'both')", name=op.f('ck_grade_limit_basis')),
    sa.ForeignKeyConstraint(['edition_id'], ['edition.edition_id'], name=op.f('fk_grade_limit_edition_id')),
    sa.PrimaryKeyConstraint('grade_limit_id', name=op.f('pk_grade_limit')),
    comment='limits as printed',
    sqlite_strict=True
    )
    with op.batch_alter_table('grade_limit', schema=None) as batch_op:
        batch_op.create_index('ix_grade_limit_edition', ['edition_id'], unique=False)

    op.create_table('hold_scope',
    sa.Column('hold_scope_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('hold_id', WHOLE, nullable=False, comment='hold'),
    sa.Column('heat_id', WHOLE, nullable=True, comment='heat'),
    sa.Column('part_id', WHOLE, nullable=True, comment='part'),
    sa.Column('sequence_id', WHOLE, nullable=True, comment='sequence of an interval'),
    sa.Column('strand_no', WHOLE, nullable=True, comment='strand of an interval'),
    sa.Column('run_no', WHOLE, nullable=True, comment='run of an interval'),
    sa.Column('from_um', WHOLE, nullable=True, comment='interval from, strand or part coordinate [um]'),
    sa.Column('to_um', WHOLE, nullable=True, comment='interval to [um]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint('(heat_id IS NOT NULL AND part_id IS NULL AND sequence_id IS NULL) OR (heat_id IS NULL AND part_id IS NOT NULL AND sequence_id IS NULL) OR (heat_id IS NULL AND part_id IS NULL AND sequence_id IS NOT NULL)', name=op.f('ck_hold_scope_one_subject')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_hold_scope_heat_id')),
    sa.ForeignKeyConstraint(['hold_id'], ['hold.hold_id'], name=op.f('fk_hold_scope_hold_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_hold_scope_part_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_hold_scope_sequence_id')),
    sa.PrimaryKeyConstraint('hold_scope_id', name=op.f('pk_hold_scope')),
    comment='what holds lie on',
    sqlite_strict=True
    )
    with op.batch_alter_table('hold_scope', schema=None) as batch_op:
        batch_op.create_index('ix_hold_scope_heat', ['heat_id'], unique=False, sqlite_where=sa.text('heat_id IS NOT NULL'), postgresql_where=sa.text('heat_id IS NOT NULL'))
        batch_op.create_index('ix_hold_scope_hold', ['hold_id'], unique=False)
        batch_op.create_index('ix_hold_scope_part', ['part_id'], unique=False, sqlite_where=sa.text('part_id IS NOT NULL'), postgresql_where=sa.text('part_id IS NOT NULL'))
        batch_op.create_index('ix_hold_scope_strand', ['sequence_id', 'strand_no', 'run_no'], unique=False, sqlite_where=sa.text('sequence_id IS NOT NULL'), postgresql_where=sa.text('sequence_id IS NOT NULL'))

    op.create_table('inspection',
    sa.Column('inspection_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('scheme', NUMBER, nullable=False, comment='rating scheme'),
    sa.Column('edition', NUMBER, nullable=False, comment='its edition'),
    sa.Column('item', NUMBER, nullable=False, comment='what was rated'),
    sa.Column('rating', sa.Text(), nullable=False, comment='rating'),
    sa.Column('read_by', sa.Text(), nullable=False, comment='reader'),
    sa.Column('second_reader', sa.Text(), nullable=True, comment='second reader'),
    sa.Column('image_sha256', sa.Text(), nullable=True, comment='digest of the image'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_inspection_batch_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_inspection_part_id')),
    sa.PrimaryKeyConstraint('inspection_id', name=op.f('pk_inspection')),
    comment='inspections of parts',
    sqlite_strict=True
    )
    with op.batch_alter_table('inspection', schema=None) as batch_op:
        batch_op.create_index('ix_inspection_part', ['part_id'], unique=False)

    op.create_table('mark',
    sa.Column('mark_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('mark', sa.Text(), nullable=False, comment='mark as read'),
    sa.Column('manner', NUMBER, nullable=True, comment='paint, stamp, tag'),
    sa.Column('at', WHOLE, nullable=True, comment='when [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_mark_part_id')),
    sa.PrimaryKeyConstraint('mark_id', name=op.f('pk_mark')),
    comment='marks on parts',
    sqlite_strict=True
    )
    with op.batch_alter_table('mark', schema=None) as batch_op:
        batch_op.create_index('ix_mark_part', ['part_id'], unique=False)

    op.create_table('mix_member',
    sa.Column('mix_member_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('mix_group_id', WHOLE, nullable=False, comment='group'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('true_part_id', WHOLE, nullable=True, comment='which part it proved to be'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['mix_group_id'], ['mix_group.mix_group_id'], name=op.f('fk_mix_member_mix_group_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_mix_member_part_id')),
    sa.ForeignKeyConstraint(['true_part_id'], ['part.part_id'], name=op.f('fk_mix_member_true_part_id')),
    sa.PrimaryKeyConstraint('mix_member_id', name=op.f('pk_mix_member')),
    comment='parts of suspected swaps',
    sqlite_strict=True
    )
    with op.batch_alter_table('mix_member', schema=None) as batch_op:
        batch_op.create_index('ix_mix_member_group', ['mix_group_id'], unique=False)
        batch_op.create_index('ix_mix_member_part', ['part_id'], unique=False)

    op.create_table('notice',
    sa.Column('notice_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('complaint_id', WHOLE, nullable=True, comment='complaint'),
    sa.Column('customer_id', WHOLE, nullable=False, comment='customer'),
    sa.Column('body', sa.Text(), nullable=False, comment='text as sent'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['complaint_id'], ['complaint.complaint_id'], name=op.f('fk_notice_complaint_id')),
    sa.ForeignKeyConstraint(['customer_id'], ['customer.customer_id'], name=op.f('fk_notice_customer_id')),
    sa.PrimaryKeyConstraint('notice_id', name=op.f('pk_notice')),
    comment='notices to customers',
    sqlite_strict=True
    )
    with op.batch_alter_table('notice', schema=None) as batch_op:
        batch_op.create_index('ix_notice_complaint', ['complaint_id'], unique=False)

    op.create_table('order_line',
    sa.Column('order_line_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('order_no', NUMBER, nullable=False, comment='order number'),
    sa.Column('line', NUMBER, nullable=False, comment='line of the order'),
    sa.Column('ordered_at', WHOLE, nullable=True, comment='when ordered [ms UTC]'),
    sa.Column('ordered_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('customer_id', WHOLE, nullable=False, comment='customer'),
    sa.Column('edition_id', WHOLE, nullable=False, comment='ordered grade edition'),
    sa.Column('form', NUMBER, nullable=False, comment='form of the ordered product'),
    sa.Column('section', sa.Text(), nullable=True, comment='section as written'),
    sa.Column('thickness_mm', sa.Text(), nullable=True, comment='thickness of the ORDERED product [mm]'),
    sa.Column('flange_mm', sa.Text(), nullable=True, comment='flange thickness [mm]'),
    sa.Column('area_mm2', sa.Text(), nullable=True, comment='cross-section [mm2]'),
    sa.Column('length_m', sa.Text(), nullable=True, comment='length [m]'),
    sa.Column('mass_t', sa.Text(), nullable=True, comment='mass [t]'),
    sa.Column('document', NUMBER, nullable=True, comment='document type'),
    sa.Column('guard_band', sa.Text(), nullable=False, comment='r: the guard band is r x U; 0 for none'),
    sa.Column('options', sa.Text(), nullable=False, comment='ordered options, separated by ;'),
    sa.Column('evidence', sa.Text(), nullable=False, comment='named evidence, separated by ;'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_order_line_batch_id')),
    sa.ForeignKeyConstraint(['customer_id'], ['customer.customer_id'], name=op.f('fk_order_line_customer_id')),
    sa.ForeignKeyConstraint(['edition_id'], ['edition.edition_id'], name=op.f('fk_order_line_edition_id')),
    sa.PrimaryKeyConstraint('order_line_id', name=op.f('pk_order_line')),
    comment='order lines',
    sqlite_strict=True
    )
    with op.batch_alter_table('order_line', schema=None) as batch_op:
        batch_op.create_index('ix_order_line_customer', ['customer_id'], unique=False)
        batch_op.create_index('uq_order_line_no', ['order_no', 'line'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('parentage',
    sa.Column('parentage_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('parent_id', WHOLE, nullable=False, comment='parent'),
    sa.Column('child_id', WHOLE, nullable=False, comment='child'),
    sa.Column('manner', NUMBER, nullable=False, comment='recut or rolled'),
    sa.Column('position', NUMBER, nullable=True, comment='head, middle or tail of the parent'),
    sa.Column('mass_g', WHOLE, nullable=True, comment='mass [g]'),
    sa.Column('at', WHOLE, nullable=True, comment='when [ms UTC]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_parentage_batch_id')),
    sa.ForeignKeyConstraint(['child_id'], ['part.part_id'], name=op.f('fk_parentage_child_id')),
    sa.ForeignKeyConstraint(['parent_id'], ['part.part_id'], name=op.f('fk_parentage_parent_id')),
    sa.PrimaryKeyConstraint('parentage_id', name=op.f('pk_parentage')),
    comment='family of parts',
    sqlite_strict=True
    )
    with op.batch_alter_table('parentage', schema=None) as batch_op:
        batch_op.create_index('ix_parentage_child', ['child_id'], unique=False)
        batch_op.create_index('ix_parentage_parent', ['parent_id'], unique=False)

    op.create_table('placement',
    sa.Column('placement_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=False, comment='run'),
    sa.Column('section', sa.Text(), nullable=False, comment='cold section, thickness x width [mm]'),
    sa.Column('tundish', NUMBER, nullable=True, comment='tundish at the head'),
    sa.Column('tundishes', sa.Text(), nullable=False, comment='tundishes along it, canonical JSON'),
    sa.Column('from_um', WHOLE, nullable=False, comment='head, strand coordinate [um]'),
    sa.Column('to_um', WHOLE, nullable=False, comment='tail, strand coordinate [um]'),
    sa.Column('meniscus_from', WHOLE, nullable=False, comment='head stood at the meniscus [ms UTC]'),
    sa.Column('meniscus_to', WHOLE, nullable=False, comment='tail stood at the meniscus [ms UTC]'),
    sa.Column('clamped_at', WHOLE, nullable=True, comment='torch clamped [ms UTC]'),
    sa.Column('clock_offset', WHOLE, nullable=True, comment='offset for showing these times [min]'),
    sa.Column('transit_ms', WHOLE, nullable=True, comment='meniscus to cut [ms]'),
    sa.Column('length_hot_um', WHOLE, nullable=False, comment='hot length [um]'),
    sa.Column('length_cold_um', WHOLE, nullable=False, comment='cold length [um]'),
    sa.Column('mass_g', WHOLE, nullable=False, comment='computed mass [g]'),
    sa.Column('residual_um', WHOLE, nullable=True, comment='measured less counter length, hot [um]'),
    sa.Column('stop_marks', sa.Text(), nullable=False, comment='strand coordinates of stop marks inside, canonical JSON [um]'),
    sa.Column('uncertainty_um', WHOLE, nullable=True, comment='uncertainty of the ends [um]'),
    sa.Column('speed_bounds', sa.Text(), nullable=True, comment='bounds where a speed or clock is unknown, canonical JSON'),
    sa.Column('cast_class', NUMBER, nullable=False, comment='pure, transition or undetermined'),
    sa.Column('class_reasons', sa.Text(), nullable=False, comment='why, canonical JSON'),
    sa.Column('majority_heat_id', WHOLE, nullable=True, comment='heat with the largest mean share'),
    sa.Column('late_heat_id', WHOLE, nullable=True, comment='newest heat with older shares at most the threshold'),
    sa.Column('heat_id', WHOLE, nullable=True, comment='heat whose number it bears'),
    sa.Column('heat_no_rule', NUMBER, nullable=False, comment='pure, late, decision or decided'),
    sa.Column('rules_edition', sa.Text(), nullable=False, comment='editions of the works values used, canonical JSON'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("cast_class IN ('pure', 'transition', 'undetermined')", name=op.f('ck_placement_cast_class')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_placement_heat_id')),
    sa.ForeignKeyConstraint(['late_heat_id'], ['heat.heat_id'], name=op.f('fk_placement_late_heat_id')),
    sa.ForeignKeyConstraint(['majority_heat_id'], ['heat.heat_id'], name=op.f('fk_placement_majority_heat_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_placement_part_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_placement_sequence_id')),
    sa.PrimaryKeyConstraint('placement_id', name=op.f('pk_placement')),
    comment='place of a part on its strand (derived)',
    sqlite_strict=True
    )
    with op.batch_alter_table('placement', schema=None) as batch_op:
        batch_op.create_index('ix_placement_strand', ['sequence_id', 'strand_no', 'run_no', 'from_um'], unique=False)
        batch_op.create_index('uq_placement_part', ['part_id'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('sample',
    sa.Column('sample_key', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('sample_id', NUMBER, nullable=False, comment='number of the sample as the laboratory writes it, normalised for search'),
    sa.Column('written_id', NUMBER, nullable=False, comment='as first written'),
    sa.Column('heat_id', WHOLE, nullable=True, comment='heat; empty for a reference material or where unknown'),
    sa.Column('kind', NUMBER, nullable=False, comment='sample kind'),
    sa.Column('taken_at', WHOLE, nullable=True, comment='taken [ms UTC]'),
    sa.Column('taken_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('tundish', NUMBER, nullable=True, comment='tundish label'),
    sa.Column('strand_no', WHOLE, nullable=True, comment='strand'),
    sa.Column('position_text', sa.Text(), nullable=True, comment='strand coordinate [m]'),
    sa.Column('ladle_mass_left_text', sa.Text(), nullable=True, comment='mass left in the ladle [t]'),
    sa.Column('part_id', WHOLE, nullable=True, comment='piece it was cut from'),
    sa.Column('piece_end', NUMBER, nullable=True, comment='end of that piece'),
    sa.Column('laboratory', NUMBER, nullable=True, comment='laboratory'),
    sa.Column('report_no', NUMBER, nullable=True, comment='report'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_sample_batch_id')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_sample_heat_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_sample_part_id')),
    sa.PrimaryKeyConstraint('sample_key', name=op.f('pk_sample')),
    comment='samples of metal',
    sqlite_strict=True
    )
    with op.batch_alter_table('sample', schema=None) as batch_op:
        batch_op.create_index('ix_sample_heat', ['heat_id', 'kind'], unique=False)
        batch_op.create_index('ix_sample_no', ['sample_id'], unique=False)
        batch_op.create_index('ix_sample_part', ['part_id'], unique=False, sqlite_where=sa.text('part_id IS NOT NULL'), postgresql_where=sa.text('part_id IS NOT NULL'))

    op.create_table('signature',
    sa.Column('signature_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('signing_key_id', WHOLE, nullable=False, comment='key that signed'),
    sa.Column('meaning', NUMBER, nullable=False, comment='meaning of the signature'),
    sa.Column('signed_text', sa.Text(), nullable=False, comment='canonical text that was signed'),
    sa.Column('signature', sa.LargeBinary(), nullable=False, comment='64 bytes'),
    sa.Column('unattended', WHOLE, nullable=False, comment='signed with a passphrase file, nobody at the keyboard'),
    sa.Column('signed_at', WHOLE, nullable=False, comment='when [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['signing_key_id'], ['signing_key.signing_key_id'], name=op.f('fk_signature_signing_key_id')),
    sa.PrimaryKeyConstraint('signature_id', name=op.f('pk_signature')),
    comment='Ed25519 signatures',
    sqlite_strict=True
    )
    with op.batch_alter_table('signature', schema=None) as batch_op:
        batch_op.create_index('ix_signature_key', ['signing_key_id'], unique=False)

    op.create_table('weight',
    sa.Column('weight_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('mass_g', WHOLE, nullable=False, comment='mass [g]'),
    sa.Column('mass_text', sa.Text(), nullable=True, comment='as written [kg]'),
    sa.Column('weighed_at', WHOLE, nullable=False, comment='when [ms UTC]'),
    sa.Column('weighed_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_weight_batch_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_weight_part_id')),
    sa.PrimaryKeyConstraint('weight_id', name=op.f('pk_weight')),
    comment='weighings',
    sqlite_strict=True
    )
    with op.batch_alter_table('weight', schema=None) as batch_op:
        batch_op.create_index('ix_weight_part', ['part_id'], unique=False)

    op.create_table('analysis',
    sa.Column('analysis_id', WHOLE, nullable=False, comment='A- number'),
    sa.Column('sample_key', WHOLE, nullable=False, comment='sample'),
    sa.Column('profile', NUMBER, nullable=False, comment='profile of the source'),
    sa.Column('method', NUMBER, nullable=False, comment='method'),
    sa.Column('instrument', NUMBER, nullable=False, comment='instrument; empty where not stated'),
    sa.Column('analysed_at', WHOLE, nullable=False, comment='analysed [ms UTC]'),
    sa.Column('analysed_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('state', NUMBER, nullable=False, comment='state on entry'),
    sa.Column('state_reason', sa.Text(), nullable=True, comment='why that state, canonical JSON of findings'),
    sa.Column('supersedes_id', WHOLE, nullable=True, comment='analysis it amends'),
    sa.Column('laboratory', NUMBER, nullable=True, comment='laboratory'),
    sa.Column('report_no', NUMBER, nullable=True, comment='report'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("state IN ('received', 'valid', 'doubtful', 'contested')", name=op.f('ck_analysis_state')),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_analysis_batch_id')),
    sa.ForeignKeyConstraint(['sample_key'], ['sample.sample_key'], name=op.f('fk_analysis_sample_key')),
    sa.ForeignKeyConstraint(['supersedes_id'], ['analysis.analysis_id'], name=op.f('fk_analysis_supersedes_id')),
    sa.PrimaryKeyConstraint('analysis_id', name=op.f('pk_analysis')),
    comment='analyses of samples',
    sqlite_strict=True
    )
    with op.batch_alter_table('analysis', schema=None) as batch_op:
        batch_op.create_index('ix_analysis_batch', ['batch_id'], unique=False)
        batch_op.create_index('ix_analysis_sample', ['sample_key'], unique=False)
        batch_op.create_index('ix_analysis_supersedes', ['supersedes_id'], unique=False, sqlite_where=sa.text('supersedes_id IS NOT NULL'), postgresql_where=sa.text('supersedes_id IS NOT NULL'))
        batch_op.create_index('uq_analysis_identity', ['profile', 'sample_key', 'method', 'instrument', 'analysed_at'], unique=True, sqlite_where=sa.text("ended_no IS NULL AND state <> 'contested'"), postgresql_where=sa.text("ended_no IS NULL AND state <> 'contested'"))

    op.create_table('approval',
    sa.Column('approval_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('subject', sa.Text(), nullable=False, comment='what is approved'),
    sa.Column('person', sa.Text(), nullable=False, comment='who approved, as stated or signed'),
    sa.Column('signature_id', WHOLE, nullable=True, comment='signature'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['signature_id'], ['signature.signature_id'], name=op.f('fk_approval_signature_id')),
    sa.PrimaryKeyConstraint('approval_id', name=op.f('pk_approval')),
    comment='second-person approvals',
    sqlite_strict=True
    )
    with op.batch_alter_table('approval', schema=None) as batch_op:
        batch_op.create_index('ix_approval_subject', ['subject'], unique=False)

    op.create_table('assignment',
    sa.Column('assignment_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('heat_id', WHOLE, nullable=True, comment='heat'),
    sa.Column('part_id', WHOLE, nullable=True, comment='part'),
    sa.Column('order_line_id', WHOLE, nullable=False, comment='order line'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_assignment_heat_id')),
    sa.ForeignKeyConstraint(['order_line_id'], ['order_line.order_line_id'], name=op.f('fk_assignment_order_line_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_assignment_part_id')),
    sa.PrimaryKeyConstraint('assignment_id', name=op.f('pk_assignment')),
    comment='heats and parts put to order lines',
    sqlite_strict=True
    )
    with op.batch_alter_table('assignment', schema=None) as batch_op:
        batch_op.create_index('ix_assignment_heat', ['heat_id'], unique=False, sqlite_where=sa.text('heat_id IS NOT NULL'), postgresql_where=sa.text('heat_id IS NOT NULL'))
        batch_op.create_index('ix_assignment_line', ['order_line_id'], unique=False)
        batch_op.create_index('ix_assignment_part', ['part_id'], unique=False, sqlite_where=sa.text('part_id IS NOT NULL'), postgresql_where=sa.text('part_id IS NOT NULL'))

    op.create_table('certificate',
    sa.Column('certificate_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('certificate_no', NUMBER, nullable=False, comment='number'),
    sa.Column('revision', WHOLE, nullable=False, comment='revision, from 0'),
    sa.Column('type', NUMBER, nullable=False, comment='document type'),
    sa.Column('order_line_id', WHOLE, nullable=False, comment='order line'),
    sa.Column('body', sa.LargeBinary(), nullable=False, comment='document as issued'),
    sa.Column('body_sha256', sa.Text(), nullable=False, comment='its digest'),
    sa.Column('replaces_id', WHOLE, nullable=True, comment='revision it replaces'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("type IN ('2.1', '2.2', '3.1', '3.2')", name=op.f('ck_certificate_type')),
    sa.ForeignKeyConstraint(['order_line_id'], ['order_line.order_line_id'], name=op.f('fk_certificate_order_line_id')),
    sa.ForeignKeyConstraint(['replaces_id'], ['certificate.certificate_id'], name=op.f('fk_certificate_replaces_id')),
    sa.PrimaryKeyConstraint('certificate_id', name=op.f('pk_certificate')),
    comment='inspection documents',
    sqlite_strict=True
    )
    with op.batch_alter_table('certificate', schema=None) as batch_op:
        batch_op.create_index('uq_certificate_no', ['certificate_no', 'revision'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('checkpoint',
    sa.Column('checkpoint_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('from_entry', WHOLE, nullable=False, comment='first entry covered'),
    sa.Column('to_entry', WHOLE, nullable=False, comment='last entry covered'),
    sa.Column('root', sa.Text(), nullable=False, comment='Merkle root, hexadecimal SHA-256'),
    sa.Column('signature_id', WHOLE, nullable=True, comment='signature over the root'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.CheckConstraint('from_entry <= to_entry', name=op.f('ck_checkpoint_span')),
    sa.ForeignKeyConstraint(['signature_id'], ['signature.signature_id'], name=op.f('fk_checkpoint_signature_id')),
    sa.PrimaryKeyConstraint('checkpoint_id', name=op.f('pk_checkpoint')),
    comment='signed Merkle roots of ledger entries',
    sqlite_strict=True
    )
    op.create_table('concession',
    sa.Column('concession_id', WHOLE, nullable=False, comment='K- number'),
    sa.Column('customer_id', WHOLE, nullable=False, comment='customer'),
    sa.Column('order_line_id', WHOLE, nullable=True, comment='order line'),
    sa.Column('reference', sa.Text(), nullable=False, comment="customer's written reference"),
    sa.Column('state', NUMBER, nullable=False, comment='asked, granted or refused'),
    sa.Column('quantity_g', WHOLE, nullable=True, comment='mass allowed [g]'),
    sa.Column('pieces', WHOLE, nullable=True, comment='pieces allowed'),
    sa.Column('last_day', NUMBER, nullable=True, comment='last day'),
    sa.Column('note', sa.Text(), nullable=False, comment='what departs'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("state IN ('asked', 'granted', 'refused')", name=op.f('ck_concession_state')),
    sa.ForeignKeyConstraint(['customer_id'], ['customer.customer_id'], name=op.f('fk_concession_customer_id')),
    sa.ForeignKeyConstraint(['order_line_id'], ['order_line.order_line_id'], name=op.f('fk_concession_order_line_id')),
    sa.PrimaryKeyConstraint('concession_id', name=op.f('pk_concession')),
    comment='concessions',
    sqlite_strict=True
    )
    with op.batch_alter_table('concession', schema=None) as batch_op:
        batch_op.create_index('ix_concession_ref', ['reference'], unique=False)

    op.create_table('counter',
    sa.Column('counter_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=False, comment='run'),
    sa.Column('read_at', WHOLE, nullable=False, comment='when read [ms UTC]'),
    sa.Column('counter_um', WHOLE, nullable=False, comment='counter [um]'),
    sa.Column('counter_text', sa.Text(), nullable=True, comment='as written [m]'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_counter_cast_sheet_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_counter_sequence_id')),
    sa.PrimaryKeyConstraint('counter_id', name=op.f('pk_counter')),
    comment='readings of strand length counters',
    sqlite_strict=True
    )
    with op.batch_alter_table('counter', schema=None) as batch_op:
        batch_op.create_index('ix_counter_sequence', ['sequence_id'], unique=False)

    op.create_table('cut',
    sa.Column('cut_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=False, comment='run'),
    sa.Column('cut_no', WHOLE, nullable=False, comment='number of the cut in its run'),
    sa.Column('kind', NUMBER, nullable=False, comment='what the part is'),
    sa.Column('piece_no', NUMBER, nullable=True, comment='number of the piece'),
    sa.Column('clamped_at', WHOLE, nullable=True, comment='torch clamps [ms UTC]'),
    sa.Column('clamped_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('clamp_distance_um', WHOLE, nullable=True, comment='meniscus to the torch when it clamps [um]'),
    sa.Column('clamp_distance_text', sa.Text(), nullable=True, comment='as written [m]'),
    sa.Column('measured_length_um', WHOLE, nullable=True, comment='measured hot length [um]'),
    sa.Column('measured_length_text', sa.Text(), nullable=True, comment='as written [m]'),
    sa.Column('mass_g', WHOLE, nullable=True, comment='weighed mass [g]'),
    sa.Column('mass_text', sa.Text(), nullable=True, comment='as written [kg]'),
    sa.Column('foreign_mass_g', WHOLE, nullable=True, comment='metal of no heat in it [g]'),
    sa.Column('foreign_mass_text', sa.Text(), nullable=True, comment='as written [kg]'),
    sa.Column('order_line_id', WHOLE, nullable=True, comment='order line'),
    sa.Column('faulty', WHOLE, nullable=False, comment='set aside on the bench: the parts on both sides are undetermined'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("kind IN ('piece', 'head-crop', 'tail-crop', 'sample', 'scrap')", name=op.f('ck_cut_kind')),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_cut_cast_sheet_id')),
    sa.ForeignKeyConstraint(['order_line_id'], ['order_line.order_line_id'], name=op.f('fk_cut_order_line_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_cut_sequence_id')),
    sa.PrimaryKeyConstraint('cut_id', name=op.f('pk_cut')),
    comment='torch cuts',
    sqlite_strict=True
    )
    with op.batch_alter_table('cut', schema=None) as batch_op:
        batch_op.create_index('uq_cut_no', ['sequence_id', 'strand_no', 'run_no', 'cut_no'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('decision',
    sa.Column('decision_id', WHOLE, nullable=False, comment='D- number'),
    sa.Column('kind', NUMBER, nullable=False, comment='kind of decision'),
    sa.Column('qualifier', NUMBER, nullable=False, comment='as-ordered, regraded, downgraded, under-concession, emergency; else empty'),
    sa.Column('heat_id', WHOLE, nullable=True, comment='heat'),
    sa.Column('part_id', WHOLE, nullable=True, comment='part'),
    sa.Column('requirement', NUMBER, nullable=False, comment='requirement it was made for'),
    sa.Column('edition_id', WHOLE, nullable=True, comment='grade edition judged against'),
    sa.Column('order_line_id', WHOLE, nullable=True, comment='order line judged for'),
    sa.Column('verdict', NUMBER, nullable=False, comment='what the rules computed: meets, fails or undecided'),
    sa.Column('cast_analysis_id', WHOLE, nullable=True, comment='frozen cast analysis'),
    sa.Column('rule_set_id', WHOLE, nullable=True, comment='rule set'),
    sa.Column('reason', NUMBER, nullable=True, comment='reason code'),
    sa.Column('note', sa.Text(), nullable=True, comment='in words'),
    sa.Column('snapshot', sa.Text(), nullable=False, comment='facts it stands on, canonical JSON'),
    sa.Column('snapshot_digest', sa.Text(), nullable=False, comment='SHA-256 of the snapshot'),
    sa.Column('by', sa.Text(), nullable=False, comment='who decided, as stated'),
    sa.Column('at', WHOLE, nullable=False, comment='when [ms UTC]'),
    sa.Column('signature_id', WHOLE, nullable=True, comment='signature; empty is unsigned'),
    sa.Column('countersign_by', WHOLE, nullable=True, comment='second signature due [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("kind IN ('release', 'regrade', 'downgrade', 'concession', 'rework', 'scrap', 'reject', 'withdraw', 'number')", name=op.f('ck_decision_kind')),
    sa.CheckConstraint('(heat_id IS NULL) <> (part_id IS NULL)', name=op.f('ck_decision_one_subject')),
    sa.ForeignKeyConstraint(['cast_analysis_id'], ['cast_analysis.cast_analysis_id'], name=op.f('fk_decision_cast_analysis_id')),
    sa.ForeignKeyConstraint(['edition_id'], ['edition.edition_id'], name=op.f('fk_decision_edition_id')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_decision_heat_id')),
    sa.ForeignKeyConstraint(['order_line_id'], ['order_line.order_line_id'], name=op.f('fk_decision_order_line_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_decision_part_id')),
    sa.ForeignKeyConstraint(['rule_set_id'], ['rule_set.rule_set_id'], name=op.f('fk_decision_rule_set_id')),
    sa.ForeignKeyConstraint(['signature_id'], ['signature.signature_id'], name=op.f('fk_decision_signature_id')),
    sa.PrimaryKeyConstraint('decision_id', name=op.f('pk_decision')),
    comment='decisions',
    sqlite_strict=True
    )
    with op.batch_alter_table('decision', schema=None) as batch_op:
        batch_op.create_index('ix_decision_heat', ['heat_id'], unique=False, sqlite_where=sa.text('heat_id IS NOT NULL'), postgresql_where=sa.text('heat_id IS NOT NULL'))
        batch_op.create_index('ix_decision_part', ['part_id'], unique=False, sqlite_where=sa.text('part_id IS NOT NULL'), postgresql_where=sa.text('part_id IS NOT NULL'))
        batch_op.create_index('ix_decision_requirement', ['requirement'], unique=False)

    op.create_table('event',
    sa.Column('event_id', WHOLE, nullable=False, comment='E- number'),
    sa.Column('cast_sheet_id', WHOLE, nullable=True, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=True, comment='strand; empty is all'),
    sa.Column('run_no', WHOLE, nullable=True, comment='run; empty is all'),
    sa.Column('tundish', NUMBER, nullable=True, comment='tundish label'),
    sa.Column('heat_id', WHOLE, nullable=True, comment='heat'),
    sa.Column('kind', NUMBER, nullable=False, comment='kind of event'),
    sa.Column('from_at', WHOLE, nullable=True, comment='from [ms UTC]'),
    sa.Column('from_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('to_at', WHOLE, nullable=True, comment="to; empty with a from is open: to the strand's end [ms UTC]"),
    sa.Column('to_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('from_um', WHOLE, nullable=True, comment='from, strand coordinate [um]'),
    sa.Column('from_text', sa.Text(), nullable=True, comment='as written [m]'),
    sa.Column('to_um', WHOLE, nullable=True, comment='to, strand coordinate [um]'),
    sa.Column('to_text', sa.Text(), nullable=True, comment='as written [m]'),
    sa.Column('amount', sa.Text(), nullable=True, comment='how much'),
    sa.Column('unit', NUMBER, nullable=True, comment='unit of the amount'),
    sa.Column('device_distance_m', sa.Text(), nullable=True, comment='meniscus to the device [m]'),
    sa.Column('note', sa.Text(), nullable=True, comment='note'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_event_batch_id')),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_event_cast_sheet_id')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_event_heat_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_event_sequence_id')),
    sa.PrimaryKeyConstraint('event_id', name=op.f('pk_event')),
    comment='events of casting',
    sqlite_strict=True
    )
    with op.batch_alter_table('event', schema=None) as batch_op:
        batch_op.create_index('ix_event_sequence', ['sequence_id'], unique=False)

    op.create_table('feed',
    sa.Column('feed_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=False, comment='run'),
    sa.Column('tundish', NUMBER, nullable=False, comment='tundish label'),
    sa.Column('from_at', WHOLE, nullable=False, comment='from [ms UTC]'),
    sa.Column('from_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('to_at', WHOLE, nullable=True, comment='to [ms UTC]'),
    sa.Column('to_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_feed_cast_sheet_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_feed_sequence_id')),
    sa.PrimaryKeyConstraint('feed_id', name=op.f('pk_feed')),
    comment='which tundish feeds which strand',
    sqlite_strict=True
    )
    with op.batch_alter_table('feed', schema=None) as batch_op:
        batch_op.create_index('ix_feed_sequence', ['sequence_id'], unique=False)

    op.create_table('heat_record',
    sa.Column('heat_record_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('edition_id', WHOLE, nullable=True, comment='planned grade edition'),
    sa.Column('grade_text', sa.Text(), nullable=True, comment='planned grade as written'),
    sa.Column('ladle_no', NUMBER, nullable=True, comment='ladle'),
    sa.Column('tapped_at', WHOLE, nullable=True, comment='tapped [ms UTC]'),
    sa.Column('tapped_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('tapped_mass_g', WHOLE, nullable=True, comment='tapped mass [g]'),
    sa.Column('tapped_mass_text', sa.Text(), nullable=True, comment='tapped mass as written, where its digits differ [t]'),
    sa.Column('order_line_id', WHOLE, nullable=True, comment='order line of its parts'),
    sa.Column('evidence', sa.Text(), nullable=False, comment='named evidence, separated by ;'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_heat_record_batch_id')),
    sa.ForeignKeyConstraint(['edition_id'], ['edition.edition_id'], name=op.f('fk_heat_record_edition_id')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_heat_record_heat_id')),
    sa.ForeignKeyConstraint(['order_line_id'], ['order_line.order_line_id'], name=op.f('fk_heat_record_order_line_id')),
    sa.PrimaryKeyConstraint('heat_record_id', name=op.f('pk_heat_record')),
    comment='particulars of a heat',
    sqlite_strict=True
    )
    with op.batch_alter_table('heat_record', schema=None) as batch_op:
        batch_op.create_index('uq_heat_record_heat', ['heat_id'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('movement',
    sa.Column('movement_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('whereabouts', NUMBER, nullable=False, comment='where it is from then on'),
    sa.Column('at', WHOLE, nullable=True, comment='when [ms UTC]'),
    sa.Column('at_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('delivery_note_id', WHOLE, nullable=True, comment='load'),
    sa.Column('order_line_id', WHOLE, nullable=True, comment='order line it went for'),
    sa.Column('note', sa.Text(), nullable=True, comment='note'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_movement_batch_id')),
    sa.ForeignKeyConstraint(['delivery_note_id'], ['delivery_note.delivery_note_id'], name=op.f('fk_movement_delivery_note_id')),
    sa.ForeignKeyConstraint(['order_line_id'], ['order_line.order_line_id'], name=op.f('fk_movement_order_line_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_movement_part_id')),
    sa.PrimaryKeyConstraint('movement_id', name=op.f('pk_movement')),
    comment='whereabouts of parts',
    sqlite_strict=True
    )
    with op.batch_alter_table('movement', schema=None) as batch_op:
        batch_op.create_index('ix_movement_note', ['delivery_note_id'], unique=False, sqlite_where=sa.text('delivery_note_id IS NOT NULL'), postgresql_where=sa.text('delivery_note_id IS NOT NULL'))
        batch_op.create_index('ix_movement_part', ['part_id'], unique=False)

    op.create_table('order_limit',
    sa.Column('order_limit_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('order_line_id', WHOLE, nullable=False, comment='order line'),
    sa.Column('basis', NUMBER, nullable=False, comment='cast, product or both'),
    sa.Column('size_band_mm', NUMBER, nullable=False, comment='band of the ordered thickness'),
    sa.Column('quantity', NUMBER, nullable=False, comment='element, formula, sum or ratio'),
    sa.Column('min_text', sa.Text(), nullable=True, comment='minimum'),
    sa.Column('aim_text', sa.Text(), nullable=True, comment='aim'),
    sa.Column('max_text', sa.Text(), nullable=True, comment='maximum'),
    sa.Column('unit', NUMBER, nullable=False, comment='unit'),
    sa.Column('rounding', NUMBER, nullable=False, comment='rounding or absolute'),
    sa.Column('round_to', sa.Text(), nullable=True, comment='place to round to'),
    sa.Column('condition', sa.Text(), nullable=True, comment='when-cell as written'),
    sa.Column('report', WHOLE, nullable=False, comment='must be reported'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_order_limit_batch_id')),
    sa.ForeignKeyConstraint(['order_line_id'], ['order_line.order_line_id'], name=op.f('fk_order_limit_order_line_id')),
    sa.PrimaryKeyConstraint('order_limit_id', name=op.f('pk_order_limit')),
    comment='limits of an order on top of its grade',
    sqlite_strict=True
    )
    with op.batch_alter_table('order_limit', schema=None) as batch_op:
        batch_op.create_index('ix_order_limit_line', ['order_line_id'], unique=False)

    op.create_table('oscillation',
    sa.Column('oscillation_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=True, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('from_at', WHOLE, nullable=False, comment='holds from [ms UTC]'),
    sa.Column('from_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('stroke_mm', sa.Text(), nullable=False, comment='stroke, peak to peak [mm]'),
    sa.Column('per_min', sa.Text(), nullable=False, comment='frequency [1/min]'),
    sa.Column('batch_id', WHOLE, nullable=True, comment='import that brought it'),
    sa.Column('row_no', WHOLE, nullable=True, comment='row in its file'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['batch_id'], ['batch.batch_id'], name=op.f('fk_oscillation_batch_id')),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_oscillation_cast_sheet_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_oscillation_sequence_id')),
    sa.PrimaryKeyConstraint('oscillation_id', name=op.f('pk_oscillation')),
    comment='mould oscillation',
    sqlite_strict=True
    )
    with op.batch_alter_table('oscillation', schema=None) as batch_op:
        batch_op.create_index('ix_oscillation_sequence', ['sequence_id'], unique=False)

    op.create_table('pour',
    sa.Column('pour_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('tundish', NUMBER, nullable=False, comment='tundish label'),
    sa.Column('opened_at', WHOLE, nullable=False, comment='opened [ms UTC]'),
    sa.Column('opened_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('closed_at', WHOLE, nullable=True, comment='closed [ms UTC]'),
    sa.Column('closed_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('poured_mass_g', WHOLE, nullable=True, comment='poured mass [g]'),
    sa.Column('poured_mass_text', sa.Text(), nullable=True, comment='as written [t]'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_pour_cast_sheet_id')),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_pour_heat_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_pour_sequence_id')),
    sa.PrimaryKeyConstraint('pour_id', name=op.f('pk_pour')),
    comment='ladles open over tundishes',
    sqlite_strict=True
    )
    with op.batch_alter_table('pour', schema=None) as batch_op:
        batch_op.create_index('ix_pour_heat', ['heat_id'], unique=False)
        batch_op.create_index('ix_pour_sequence', ['sequence_id'], unique=False)

    op.create_table('remainder',
    sa.Column('remainder_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('sample_key', WHOLE, nullable=False, comment='sample'),
    sa.Column('place', sa.Text(), nullable=False, comment='where it lies'),
    sa.Column('keep_until', WHOLE, nullable=True, comment='keep until [ms UTC]'),
    sa.Column('keep', WHOLE, nullable=False, comment='kept for a dispute'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['sample_key'], ['sample.sample_key'], name=op.f('fk_remainder_sample_key')),
    sa.PrimaryKeyConstraint('remainder_id', name=op.f('pk_remainder')),
    comment='remainders of samples',
    sqlite_strict=True
    )
    with op.batch_alter_table('remainder', schema=None) as batch_op:
        batch_op.create_index('ix_remainder_sample', ['sample_key'], unique=False)

    op.create_table('sample_state',
    sa.Column('sample_state_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('sample_key', WHOLE, nullable=False, comment='sample'),
    sa.Column('state', NUMBER, nullable=False, comment='state from then on'),
    sa.Column('note', sa.Text(), nullable=False, comment='why'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['sample_key'], ['sample.sample_key'], name=op.f('fk_sample_state_sample_key')),
    sa.PrimaryKeyConstraint('sample_state_id', name=op.f('pk_sample_state')),
    comment='states of samples',
    sqlite_strict=True
    )
    with op.batch_alter_table('sample_state', schema=None) as batch_op:
        batch_op.create_index('ix_sample_state_sample', ['sample_key'], unique=False)

    op.create_table('section',
    sa.Column('section_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=False, comment='run'),
    sa.Column('from_um', WHOLE, nullable=False, comment='strand coordinate from which it holds [um]'),
    sa.Column('from_text', sa.Text(), nullable=True, comment='as written [m]'),
    sa.Column('thickness_mm', sa.Text(), nullable=False, comment='cold thickness [mm]'),
    sa.Column('width_mm', sa.Text(), nullable=False, comment='cold width [mm]'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_section_cast_sheet_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_section_sequence_id')),
    sa.PrimaryKeyConstraint('section_id', name=op.f('pk_section')),
    comment='changes of section while casting',
    sqlite_strict=True
    )
    with op.batch_alter_table('section', schema=None) as batch_op:
        batch_op.create_index('ix_section_sequence', ['sequence_id'], unique=False)

    op.create_table('share',
    sa.Column('placement_id', WHOLE, nullable=False, comment='placement'),
    sa.Column('heat_id', WHOLE, nullable=False, comment='heat'),
    sa.Column('mean', WHOLE, nullable=False, comment='mean by mass [1e-6]'),
    sa.Column('head', WHOLE, nullable=False, comment='at the head, from inside [1e-6]'),
    sa.Column('tail', WHOLE, nullable=False, comment='at the tail, from inside [1e-6]'),
    sa.Column('least', WHOLE, nullable=False, comment='smallest anywhere [1e-6]'),
    sa.Column('greatest', WHOLE, nullable=False, comment='largest anywhere [1e-6]'),
    sa.Column('uncertainty_head', WHOLE, nullable=True, comment='uncertainty at the head [1e-6]'),
    sa.Column('uncertainty_tail', WHOLE, nullable=True, comment='uncertainty at the tail [1e-6]'),
    sa.ForeignKeyConstraint(['heat_id'], ['heat.heat_id'], name=op.f('fk_share_heat_id')),
    sa.ForeignKeyConstraint(['placement_id'], ['placement.placement_id'], name=op.f('fk_share_placement_id')),
    sa.PrimaryKeyConstraint('placement_id', 'heat_id', name=op.f('pk_share')),
    comment='shares of heats in parts (derived)',
    sqlite_strict=True,
    sqlite_with_rowid=False
    )
    with op.batch_alter_table('share', schema=None) as batch_op:
        batch_op.create_index('ix_share_heat', ['heat_id'], unique=False)

    op.create_table('speed',
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=False, comment='run'),
    sa.Column('from_at', WHOLE, nullable=False, comment='holds from [ms UTC]'),
    sa.Column('speed_um_min', WHOLE, nullable=True, comment='casting speed [um/min]; empty is unknown'),
    sa.Column('speed_text', sa.Text(), nullable=True, comment='as written [m/min]'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_speed_cast_sheet_id')),
    sa.PrimaryKeyConstraint('cast_sheet_id', 'strand_no', 'run_no', 'from_at', name=op.f('pk_speed')),
    comment="casting speeds; entry numbers are the sheet's",
    sqlite_strict=True,
    sqlite_with_rowid=False
    )
    op.create_table('strand_run',
    sa.Column('strand_run_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=False, comment='run: a new dummy bar is a new run'),
    sa.Column('form', NUMBER, nullable=False, comment='cast shape'),
    sa.Column('thickness_mm', sa.Text(), nullable=False, comment='cold thickness [mm]'),
    sa.Column('width_mm', sa.Text(), nullable=False, comment='cold width [mm]'),
    sa.Column('area_mm2', sa.Text(), nullable=True, comment='cold area of a profile [mm2]'),
    sa.Column('machine_length_um', WHOLE, nullable=False, comment='meniscus to torch home along the centre line [um]'),
    sa.Column('machine_length_text', sa.Text(), nullable=True, comment='as written [m]'),
    sa.Column('started_at', WHOLE, nullable=False, comment='strand starts to move [ms UTC]'),
    sa.Column('started_offset', WHOLE, nullable=True, comment='offset from UTC the source wrote beside that moment [min]'),
    sa.Column('stopped_at', WHOLE, nullable=True, comment='strand stopped moving for good [ms UTC]'),
    sa.Column('kerf_mm', sa.Text(), nullable=True, comment='kerf [mm]'),
    sa.Column('cut_temperature_c', sa.Text(), nullable=True, comment='temperature at the cut [degree C]'),
    sa.Column('mould_no', NUMBER, nullable=True, comment='mould'),
    sa.Column('lubricant', NUMBER, nullable=True, comment='lubricant'),
    sa.Column('lubricant_lot', NUMBER, nullable=True, comment='its lot'),
    sa.Column('plug_mass_g', WHOLE, nullable=True, comment='steel between mixed tank and nozzle [g]'),
    sa.Column('plug_mass_text', sa.Text(), nullable=True, comment='as written [t]'),
    sa.Column('stroke_mm', sa.Text(), nullable=True, comment='oscillation stroke, peak to peak [mm]'),
    sa.Column('oscillation_per_min', sa.Text(), nullable=True, comment='oscillation frequency [1/min]'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("form IN ('bloom', 'billet', 'slab', 'round', 'profile')", name=op.f('ck_strand_run_form')),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_strand_run_cast_sheet_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_strand_run_sequence_id')),
    sa.PrimaryKeyConstraint('strand_run_id', name=op.f('pk_strand_run')),
    comment='strand runs',
    sqlite_strict=True
    )
    with op.batch_alter_table('strand_run', schema=None) as batch_op:
        batch_op.create_index('uq_strand_run_no', ['sequence_id', 'strand_no', 'run_no'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('tundish_mass',
    sa.Column('tundish_mass_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('tundish', NUMBER, nullable=False, comment='tundish label'),
    sa.Column('read_at', WHOLE, nullable=False, comment='when read [ms UTC]'),
    sa.Column('mass_g', WHOLE, nullable=False, comment='liquid steel, tare taken off [g]'),
    sa.Column('mass_text', sa.Text(), nullable=True, comment='as written [t]'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_tundish_mass_cast_sheet_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_tundish_mass_sequence_id')),
    sa.PrimaryKeyConstraint('tundish_mass_id', name=op.f('pk_tundish_mass')),
    comment='readings of tundish mass',
    sqlite_strict=True
    )
    with op.batch_alter_table('tundish_mass', schema=None) as batch_op:
        batch_op.create_index('ix_tundish_mass_sequence', ['sequence_id'], unique=False)

    op.create_table('tundish_use',
    sa.Column('tundish_use_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('cast_sheet_id', WHOLE, nullable=False, comment='sheet'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('tundish', NUMBER, nullable=False, comment='label, unique in the sequence'),
    sa.Column('tundish_no', NUMBER, nullable=True, comment='number painted on it'),
    sa.Column('mass_at_start_g', WHOLE, nullable=False, comment='liquid steel at the start [g]'),
    sa.Column('mass_at_start_text', sa.Text(), nullable=True, comment='as written [t]'),
    sa.Column('heat_at_start_id', WHOLE, nullable=True, comment='heat in it at the start'),
    sa.Column('working_mass_g', WHOLE, nullable=True, comment='working mass [g]'),
    sa.Column('working_mass_text', sa.Text(), nullable=True, comment='as written [t]'),
    sa.Column('stagnant_mass_g', WHOLE, nullable=True, comment='mass that does not mix [g]'),
    sa.Column('stagnant_mass_text', sa.Text(), nullable=True, comment='as written [t]'),
    sa.Column('row_no', WHOLE, nullable=False, comment='row in its sheet'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['cast_sheet_id'], ['cast_sheet.cast_sheet_id'], name=op.f('fk_tundish_use_cast_sheet_id')),
    sa.ForeignKeyConstraint(['heat_at_start_id'], ['heat.heat_id'], name=op.f('fk_tundish_use_heat_at_start_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_tundish_use_sequence_id')),
    sa.PrimaryKeyConstraint('tundish_use_id', name=op.f('pk_tundish_use')),
    comment='tundishes of a sequence',
    sqlite_strict=True
    )
    with op.batch_alter_table('tundish_use', schema=None) as batch_op:
        batch_op.create_index('uq_tundish_use_label', ['sequence_id', 'tundish'], unique=True, sqlite_where=sa.text('ended_no IS NULL'), postgresql_where=sa.text('ended_no IS NULL'))

    op.create_table('analysis_state',
    sa.Column('analysis_state_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('analysis_id', WHOLE, nullable=False, comment='analysis'),
    sa.Column('state', NUMBER, nullable=False, comment='state from then on'),
    sa.Column('reason', NUMBER, nullable=False, comment='reason code'),
    sa.Column('note', sa.Text(), nullable=False, comment='why'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['analysis_id'], ['analysis.analysis_id'], name=op.f('fk_analysis_state_analysis_id')),
    sa.PrimaryKeyConstraint('analysis_state_id', name=op.f('pk_analysis_state')),
    comment='later states of analyses',
    sqlite_strict=True
    )
    with op.batch_alter_table('analysis_state', schema=None) as batch_op:
        batch_op.create_index('ix_analysis_state_analysis', ['analysis_id'], unique=False)

    op.create_table('burn',
    sa.Column('analysis_id', WHOLE, nullable=False, comment='analysis'),
    sa.Column('burn_no', WHOLE, nullable=False, comment='burn'),
    sa.Column('written', sa.Text(), nullable=False, comment='burn as written'),
    sa.Column('packed', sa.LargeBinary(), nullable=False, comment='contents as reported, UTF-8 canonical JSON by element'),
    sa.ForeignKeyConstraint(['analysis_id'], ['analysis.analysis_id'], name=op.f('fk_burn_analysis_id')),
    sa.PrimaryKeyConstraint('analysis_id', 'burn_no', name=op.f('pk_burn')),
    comment='burns of analyses; all values in one packed field',
    sqlite_strict=True,
    sqlite_with_rowid=False
    )
    op.create_table('cast_analysis_value',
    sa.Column('cast_analysis_id', WHOLE, nullable=False, comment='choice'),
    sa.Column('element_id', WHOLE, nullable=False, comment='element'),
    sa.Column('analysis_id', WHOLE, nullable=False, comment='analysis it is taken from'),
    sa.Column('rule', NUMBER, nullable=False, comment='rule or reason for this element'),
    sa.ForeignKeyConstraint(['analysis_id'], ['analysis.analysis_id'], name=op.f('fk_cast_analysis_value_analysis_id')),
    sa.ForeignKeyConstraint(['cast_analysis_id'], ['cast_analysis.cast_analysis_id'], name=op.f('fk_cast_analysis_value_cast_analysis_id')),
    sa.ForeignKeyConstraint(['element_id'], ['element.element_id'], name=op.f('fk_cast_analysis_value_element_id')),
    sa.PrimaryKeyConstraint('cast_analysis_id', 'element_id', name=op.f('pk_cast_analysis_value')),
    comment='results chosen',
    sqlite_strict=True,
    sqlite_with_rowid=False
    )
    with op.batch_alter_table('cast_analysis_value', schema=None) as batch_op:
        batch_op.create_index('ix_cast_analysis_value_analysis', ['analysis_id'], unique=False)

    op.create_table('certificate_claim',
    sa.Column('certificate_claim_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('certificate_id', WHOLE, nullable=False, comment='certificate'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('mass_g', WHOLE, nullable=False, comment='mass claimed [g]'),
    sa.Column('claim', sa.Text(), nullable=False, comment='what is claimed, canonical JSON'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['certificate_id'], ['certificate.certificate_id'], name=op.f('fk_certificate_claim_certificate_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_certificate_claim_part_id')),
    sa.PrimaryKeyConstraint('certificate_claim_id', name=op.f('pk_certificate_claim')),
    comment='claims of certificates',
    sqlite_strict=True
    )
    with op.batch_alter_table('certificate_claim', schema=None) as batch_op:
        batch_op.create_index('ix_certificate_claim_certificate', ['certificate_id'], unique=False)
        batch_op.create_index('ix_certificate_claim_part', ['part_id'], unique=False)

    op.create_table('certificate_holder',
    sa.Column('certificate_holder_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('certificate_id', WHOLE, nullable=False, comment='certificate'),
    sa.Column('customer_id', WHOLE, nullable=False, comment='customer'),
    sa.Column('at', WHOLE, nullable=False, comment='when [ms UTC]'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['certificate_id'], ['certificate.certificate_id'], name=op.f('fk_certificate_holder_certificate_id')),
    sa.ForeignKeyConstraint(['customer_id'], ['customer.customer_id'], name=op.f('fk_certificate_holder_customer_id')),
    sa.PrimaryKeyConstraint('certificate_holder_id', name=op.f('pk_certificate_holder')),
    comment='holders of certificates',
    sqlite_strict=True
    )
    with op.batch_alter_table('certificate_holder', schema=None) as batch_op:
        batch_op.create_index('ix_certificate_holder_certificate', ['certificate_id'], unique=False)

    op.create_table('certificate_state',
    sa.Column('certificate_state_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('certificate_id', WHOLE, nullable=False, comment='certificate'),
    sa.Column('state', NUMBER, nullable=False, comment='state from then on'),
    sa.Column('signature_id', WHOLE, nullable=True, comment='signature'),
    sa.Column('note', sa.Text(), nullable=True, comment='note'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.CheckConstraint("state IN ('draft', 'signed', 'issued', 'superseded', 'cancelled')", name=op.f('ck_certificate_state_state')),
    sa.ForeignKeyConstraint(['certificate_id'], ['certificate.certificate_id'], name=op.f('fk_certificate_state_certificate_id')),
    sa.ForeignKeyConstraint(['signature_id'], ['signature.signature_id'], name=op.f('fk_certificate_state_signature_id')),
    sa.PrimaryKeyConstraint('certificate_state_id', name=op.f('pk_certificate_state')),
    comment='states of certificates',
    sqlite_strict=True
    )
    with op.batch_alter_table('certificate_state', schema=None) as batch_op:
        batch_op.create_index('ix_certificate_state_certificate', ['certificate_id'], unique=False)

    op.create_table('concession_use',
    sa.Column('concession_use_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('concession_id', WHOLE, nullable=False, comment='concession'),
    sa.Column('part_id', WHOLE, nullable=False, comment='part'),
    sa.Column('mass_g', WHOLE, nullable=False, comment='mass [g]'),
    sa.Column('decision_id', WHOLE, nullable=False, comment='decision'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['concession_id'], ['concession.concession_id'], name=op.f('fk_concession_use_concession_id')),
    sa.ForeignKeyConstraint(['decision_id'], ['decision.decision_id'], name=op.f('fk_concession_use_decision_id')),
    sa.ForeignKeyConstraint(['part_id'], ['part.part_id'], name=op.f('fk_concession_use_part_id')),
    sa.PrimaryKeyConstraint('concession_use_id', name=op.f('pk_concession_use')),
    comment='uses of concessions',
    sqlite_strict=True
    )
    with op.batch_alter_table('concession_use', schema=None) as batch_op:
        batch_op.create_index('ix_concession_use_concession', ['concession_id'], unique=False)
        batch_op.create_index('ix_concession_use_part', ['part_id'], unique=False)

    op.create_table('decision_finding',
    sa.Column('decision_finding_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('decision_id', WHOLE, nullable=False, comment='decision'),
    sa.Column('code', NUMBER, nullable=False, comment='finding code'),
    sa.Column('subject', sa.Text(), nullable=False, comment='what it is about'),
    sa.Column('seen', sa.Text(), nullable=False, comment='what was seen'),
    sa.Column('wanted', sa.Text(), nullable=False, comment='what was wanted'),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['decision_id'], ['decision.decision_id'], name=op.f('fk_decision_finding_decision_id')),
    sa.PrimaryKeyConstraint('decision_finding_id', name=op.f('pk_decision_finding')),
    comment='findings stored with decisions',
    sqlite_strict=True
    )
    with op.batch_alter_table('decision_finding', schema=None) as batch_op:
        batch_op.create_index('ix_decision_finding_decision', ['decision_id'], unique=False)

    op.create_table('event_reach',
    sa.Column('event_reach_id', WHOLE, nullable=False, comment='surrogate key'),
    sa.Column('event_id', WHOLE, nullable=False, comment='event'),
    sa.Column('sequence_id', WHOLE, nullable=False, comment='sequence'),
    sa.Column('strand_no', WHOLE, nullable=False, comment='strand'),
    sa.Column('run_no', WHOLE, nullable=False, comment='run'),
    sa.Column('from_um', WHOLE, nullable=False, comment='from, strand coordinate [um]'),
    sa.Column('to_um', WHOLE, nullable=False, comment='to, strand coordinate [um]'),
    sa.Column('open_end', WHOLE, nullable=False, comment="the event has no end: shown to the strand's end"),
    sa.Column('entry_no', WHOLE, nullable=False, comment='ledger entry that wrote this row'),
    sa.Column('ended_no', WHOLE, nullable=True, comment='ledger entry that superseded or undid this row'),
    sa.ForeignKeyConstraint(['event_id'], ['event.event_id'], name=op.f('fk_event_reach_event_id')),
    sa.ForeignKeyConstraint(['sequence_id'], ['sequence.sequence_id'], name=op.f('fk_event_reach_sequence_id')),
    sa.PrimaryKeyConstraint('event_reach_id', name=op.f('pk_event_reach')),
    comment='metres marked by events (derived)',
    sqlite_strict=True
    )
    with op.batch_alter_table('event_reach', schema=None) as batch_op:
        batch_op.create_index('ix_event_reach_event', ['event_id'], unique=False)
        batch_op.create_index('ix_event_reach_strand', ['sequence_id', 'strand_no', 'run_no'], unique=False)

    op.create_table('result',
    sa.Column('analysis_id', WHOLE, nullable=False, comment='analysis'),
    sa.Column('element_id', WHOLE, nullable=False, comment='element'),
    sa.Column('value_ppb', WHOLE, nullable=True, comment='content [ppb = 1e-7 mass %]; empty when not reported'),
    sa.Column('form_id', WHOLE, nullable=False, comment='how it was reported'),
    sa.ForeignKeyConstraint(['analysis_id'], ['analysis.analysis_id'], name=op.f('fk_result_analysis_id')),
    sa.ForeignKeyConstraint(['element_id'], ['element.element_id'], name=op.f('fk_result_element_id')),
    sa.ForeignKeyConstraint(['form_id'], ['result_form.form_id'], name=op.f('fk_result_form_id')),
    sa.PrimaryKeyConstraint('analysis_id', 'element_id', name=op.f('pk_result')),
    comment='contents by analysis and element; whole parts per billion',
    sqlite_strict=True,
    sqlite_with_rowid=False
    )
    op.create_table('result_text',
    sa.Column('analysis_id', WHOLE, nullable=False, comment='analysis'),
    sa.Column('element_id', WHOLE, nullable=False, comment='element'),
    sa.Column('reported', sa.Text(), nullable=False, comment='text as reported, in mass % with a decimal point'),
    sa.ForeignKeyConstraint(['analysis_id'], ['analysis.analysis_id'], name=op.f('fk_result_text_analysis_id')),
    sa.ForeignKeyConstraint(['element_id'], ['element.element_id'], name=op.f('fk_result_text_element_id')),
    sa.PrimaryKeyConstraint('analysis_id', 'element_id', name=op.f('pk_result_text')),
    comment='reported texts finer than a part per billion or of odd form',
    sqlite_strict=True,
    sqlite_with_rowid=False
    )
