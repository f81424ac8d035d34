import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0016_bringing_and_live'),
    ]

    operations = [
        migrations.CreateModel(
            name='CheckTerms',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('one_take', models.BooleanField(default=False, help_text='The first take is the one that stays.')),
                ('at_station', models.BooleanField(default=False, help_text='Recorded at a station or heard live, never at home.')),
                ('own_start', models.BooleanField(default=False, help_text='Each musician starts at a measure drawn for them.')),
                ('seed', models.PositiveIntegerField(default=0, help_text='What the starts are drawn with.')),
                ('opens_at', models.DateTimeField(blank=True, null=True)),
                ('closes_at', models.DateTimeField(blank=True, null=True)),
                ('check_row', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='terms', to='programme.playingcheck')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='ownversion',
            name='skipped',
            field=models.PositiveSmallIntegerField(default=0, help_text="Measures left out before this musician's own start."),
        ),
    ]
