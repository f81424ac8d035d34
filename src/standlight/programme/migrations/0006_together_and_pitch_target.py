from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0005_lines'),
    ]

    operations = [
        migrations.AddField(
            model_name='playingcheck',
            name='together',
            field=models.BooleanField(default=False, help_text='A small group records it together: only the common pulse is read.'),
        ),
        migrations.AddField(
            model_name='playingcheck',
            name='pitch_target',
            field=models.CharField(default='equal', help_text='What intonation is read against: a key of pitch_targets.CHOICES.', max_length=8),
        ),
        migrations.AddField(
            model_name='playingcheck',
            name='tonic',
            field=models.CharField(blank=True, help_text='Concert pitch that just intervals or a drone stand on: a key of TONICS.', max_length=4),
        ),
    ]
