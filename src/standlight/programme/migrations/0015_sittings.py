import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0014_answering'),
    ]

    operations = [
        migrations.CreateModel(
            name='DeskSitting',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('order', models.CharField(choices=[('section', 'By section'), ('shuffled', 'Shuffled'), ('criterion', 'One criterion at a time, takes shuffled')], default='section', max_length=10)),
                ('blind', models.BooleanField(default=False, help_text='Codes stand in the place of names.')),
                ('seed', models.PositiveIntegerField(default=0)),
                ('started_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('last_at', models.DateTimeField(default=django.utils.timezone.now, help_text='The latest levels or answer.')),
                ('rested_at', models.DateTimeField(default=django.utils.timezone.now, help_text='The start, or the end of the latest pause.')),
                ('done', models.PositiveIntegerField(default=0, help_text='Takes rated whole since the start.')),
                ('again', models.JSONField(default=list, help_text='Takes to be heard again: [turn, after how many takes].')),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('check_row', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='sittings', to='programme.playingcheck')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='TakeStart',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('seconds', models.FloatField(help_text='From the start of the recording.')),
                ('set_at', models.DateTimeField(auto_now=True)),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('take', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='start_by_hand', to='programme.take')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddConstraint(
            model_name='desksitting',
            constraint=models.UniqueConstraint(fields=('account', 'check_row'), name='one_sitting_a_check'),
        ),
    ]
