import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0021_rehearse'),
    ]

    operations = [
        migrations.CreateModel(
            name='Grouping',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('title', models.CharField(max_length=80)),
                ('size', models.PositiveSmallIntegerField(help_text='No group has more musicians.')),
                ('parts', models.CharField(help_text='A key of ``planning.PARTS``.', max_length=8)),
                ('seed', models.PositiveIntegerField(default=0)),
                ('by_levels', models.BooleanField(default=True, help_text='Levels are balanced.')),
                ('by_earlier', models.BooleanField(default=True, help_text='Earlier groups are not repeated.')),
                ('with_roles', models.BooleanField(default=True)),
                ('step', models.CharField(blank=True, max_length=60)),
                ('question', models.CharField(blank=True, max_length=60)),
                ('made_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('kept_at', models.DateTimeField(blank=True, null=True)),
                ('shared_at', models.DateTimeField(blank=True, help_text='Since when each musician reads the names of their group.', null=True)),
                ('assignment', models.ForeignKey(blank=True, help_text='Whose answers are to differ.', null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='programme.assignment')),
                ('ensemble', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='groupings', to='programme.ensemble')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('-made_at', '-pk'),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Talk',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('held_on', models.DateField()),
                ('words', models.CharField(blank=True, help_text='The musician reads it.', max_length=1000)),
                ('noted_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('ensemble', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='talks', to='programme.ensemble')),
                ('held_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('musician', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='talks', to='programme.musician')),
            ],
            options={
                'ordering': ('-held_on', '-pk'),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='TalkStep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('words', models.CharField(max_length=240)),
                ('due_on', models.DateField()),
                ('done_at', models.DateTimeField(blank=True, null=True)),
                ('done_said_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('talk', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='steps', to='programme.talk')),
            ],
            options={
                'ordering': ('due_on', 'pk'),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='GroupSeat',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('role', models.CharField(blank=True, help_text='A key of ``planning.ROLES``.', max_length=12)),
                ('grouping', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='seats', to='programme.grouping')),
                ('musician', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='group_seats', to='programme.musician')),
            ],
            options={
                'ordering': ('grouping', 'number', 'musician__family_name', 'musician__given_name', 'pk'),
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('grouping', 'musician'), name='grouped_once')],
            },
        ),
        migrations.CreateModel(
            name='GroupWish',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('apart', models.BooleanField(help_text='To be kept apart; otherwise to be kept together.')),
                ('made_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('ensemble', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='group_wishes', to='programme.ensemble')),
                ('first', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='programme.musician')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('second', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='programme.musician')),
            ],
            options={
                'ordering': ('ensemble', '-apart', 'first__family_name', 'first__given_name', 'pk'),
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('ensemble', 'first', 'second'), name='group_wish_once'), models.CheckConstraint(condition=models.Q(('first__lt', models.F('second'))), name='group_wish_of_two_in_order')],
            },
        ),
        migrations.CreateModel(
            name='TalkAsked',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('words', models.TextField(blank=True)),
                ('asked_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('first_read_at', models.DateTimeField(blank=True, help_text='A director read any of it first: it stays from then on.', null=True)),
                ('read_at', models.DateTimeField(blank=True, help_text='A director read all of it; none while words are unread.', null=True)),
                ('talked_at', models.DateTimeField(blank=True, help_text='A talk was noted after it, or somebody said it is over.', null=True)),
                ('ensemble', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='talks_asked', to='programme.ensemble')),
                ('musician', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='talks_asked', to='programme.musician')),
            ],
            options={
                'ordering': ('asked_at', 'pk'),
                'abstract': False,
                'constraints': [models.UniqueConstraint(condition=models.Q(('talked_at__isnull', True)), fields=('ensemble', 'musician'), name='one_talk_asked_at_a_time')],
            },
        ),
        migrations.CreateModel(
            name='TalkRuleOff',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=24)),
                ('set_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('programme', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='programme.programme')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('programme', 'code'), name='talk_rule_off_once')],
            },
        ),
        migrations.CreateModel(
            name='TalkRuleRest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=24)),
                ('until', models.DateField(help_text='The first day on which it may name them again.')),
                ('set_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('ensemble', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='programme.ensemble')),
                ('musician', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='programme.musician')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('ensemble', 'musician', 'code'), name='talk_rule_rest_once')],
            },
        ),
    ]
