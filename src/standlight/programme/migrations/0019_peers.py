import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0018_other_ears'),
    ]

    operations = [
        migrations.CreateModel(
            name='PeerRound',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('criteria', models.JSONField(help_text="Keys of the check's own criteria.")),
                ('takes_each', models.PositiveSmallIntegerField(default=2)),
                ('until', models.DateField(help_text="The last day, in the school's own time.")),
                ('shows_levels', models.BooleanField(default=False, help_text="Who heard a take sees a director's level for it afterwards.")),
                ('asked_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('opened_at', models.DateTimeField(blank=True, null=True)),
                ('closed_at', models.DateTimeField(blank=True, help_text='Closed by a director.', null=True)),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('check_row', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='peer_round', to='programme.playingcheck')),
            ],
            options={
                'ordering': ('-asked_at', '-pk'),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='PeerHearing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('place', models.PositiveSmallIntegerField(help_text='From 1.')),
                ('handed_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('heard_at', models.DateTimeField(blank=True, help_text='Its sound first went out.', null=True)),
                ('sent_at', models.DateTimeField(blank=True, help_text='Of what stands now.', null=True)),
                ('listener', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='peer_hearings', to='programme.musician')),
                ('turn', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='peer_hearings', to='programme.turn')),
                ('round', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='hearings', to='programme.peerround')),
            ],
            options={
                'ordering': ('round', 'listener', 'place'),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='PeerConsent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('said_yes', models.BooleanField()),
                ('said_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('musician', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='peer_consents', to='programme.musician')),
                ('turn', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='peer_consents', to='programme.turn')),
                ('round', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='consents', to='programme.peerround')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='PeerLevel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('criterion', models.CharField(max_length=40)),
                ('value', models.CharField(help_text='"1" to "4", "not_shown" or "not_heard".', max_length=10)),
                ('given_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('retired_at', models.DateTimeField(blank=True, null=True)),
                ('hearing', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='levels', to='programme.peerhearing')),
            ],
            options={
                'abstract': False,
                'constraints': [models.UniqueConstraint(condition=models.Q(('retired_at__isnull', True)), fields=('hearing', 'criterion'), name='one_standing_peer_level')],
            },
        ),
        migrations.CreateModel(
            name='PeerLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('place', models.CharField(choices=[('well', 'What went well'), ('try', 'One thing to try')], max_length=4)),
                ('words', models.CharField(max_length=400)),
                ('first_measure', models.PositiveIntegerField(blank=True, help_text='0-based index.', null=True)),
                ('last_measure', models.PositiveIntegerField(blank=True, null=True)),
                ('printed', models.CharField(blank=True, help_text='Where, on paper alone.', max_length=60)),
                ('decided_at', models.DateTimeField(blank=True, null=True)),
                ('passed', models.BooleanField(default=False)),
                ('seen_at', models.DateTimeField(blank=True, help_text='First read by the owner.', null=True)),
                ('decided_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('hearing', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='lines', to='programme.peerhearing')),
            ],
            options={
                'ordering': ('hearing', '-place', 'pk'),
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('hearing', 'place'), name='one_peer_line_a_place')],
            },
        ),
        migrations.AddConstraint(
            model_name='peerhearing',
            constraint=models.UniqueConstraint(fields=('round', 'listener', 'turn'), name='peer_hears_once'),
        ),
        migrations.AddConstraint(
            model_name='peerhearing',
            constraint=models.UniqueConstraint(fields=('round', 'listener', 'place'), name='peer_place_once'),
        ),
        migrations.AddConstraint(
            model_name='peerconsent',
            constraint=models.UniqueConstraint(fields=('round', 'musician'), name='one_consent_a_round'),
        ),
    ]
