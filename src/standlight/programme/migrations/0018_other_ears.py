import django.db.models.deletion
import django.utils.timezone
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0017_terms_of_recording'),
    ]

    operations = [
        migrations.CreateModel(
            name='AnchorTake',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('levels', models.JSONField(help_text='Criterion to "1" to "4", as agreed.')),
                ('reason', models.CharField(help_text='What one hears that makes it so.', max_length=400)),
                ('agreed_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('agreed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('turn', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='anchor', to='programme.turn')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Calibration',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('takes', models.JSONField(default=list)),
                ('begun_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('done_at', models.DateTimeField(blank=True, null=True)),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('check_row', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='calibrations', to='programme.playingcheck')),
            ],
            options={
                'ordering': ('-begun_at', '-pk'),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='GuestLink',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(default=uuid.uuid4, help_text='Signed, it is the address.', unique=True)),
                ('label', models.CharField(help_text='Who it is for; directors alone see it.', max_length=60)),
                ('note', models.CharField(blank=True, help_text='A sentence to the guest.', max_length=240)),
                ('counts_as', models.CharField(choices=[('guest', 'Beside mine: shown, and compared with nobody'), ('director', "Compared: Raters weighs them like a second director's")], default='guest', max_length=10)),
                ('seed', models.PositiveIntegerField(help_text='Codes and order are drawn from it.')),
                ('made_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('expires_at', models.DateTimeField()),
                ('opened_at', models.DateTimeField(blank=True, help_text='Opened the first time.', null=True)),
                ('closed_at', models.DateTimeField(blank=True, help_text='Closed by a director.', null=True)),
                ('check_row', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='guest_links', to='programme.playingcheck')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('-made_at', '-pk'),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='GuestTake',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('place', models.PositiveSmallIntegerField(help_text='From 1.')),
                ('code', models.CharField(max_length=8)),
                ('link', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='takes', to='programme.guestlink')),
                ('turn', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='guest_takes', to='programme.turn')),
            ],
            options={
                'ordering': ('link', 'place'),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='GuestLevel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('criterion', models.CharField(max_length=40)),
                ('value', models.CharField(help_text='"1" to "4", "not_shown" or "not_heard".', max_length=10)),
                ('given_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('retired_at', models.DateTimeField(blank=True, null=True)),
                ('take', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='levels', to='programme.guesttake')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddConstraint(
            model_name='guesttake',
            constraint=models.UniqueConstraint(fields=('link', 'turn'), name='guest_hears_once'),
        ),
        migrations.AddConstraint(
            model_name='guesttake',
            constraint=models.UniqueConstraint(fields=('link', 'place'), name='guest_place_once'),
        ),
        migrations.AddConstraint(
            model_name='guestlevel',
            constraint=models.UniqueConstraint(condition=models.Q(('retired_at__isnull', True)), fields=('take', 'criterion'), name='one_standing_guest_level'),
        ),
    ]
